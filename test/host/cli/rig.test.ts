import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { Refusal, requests } from '../../../main/contract/index.ts'
import { openEngine } from '../../../main/engine/open.ts'
import { UsageError, type Call, type Verb } from '../../../main/host/cli/verb.ts'
import { rig } from '../../../main/host/cli/verbs/rig.ts'
import { train } from '../../../main/host/cli/verbs/train.ts'
import { freshFolder, writeRun } from '../../engine/night-files.ts'
import { captureFolder } from '../../engine/rigs/shelf.ts'

/** Runs verbs on one data folder. The clock is the machine's own: the night of these frames is over. */
function commandLine(dataDir = join(freshFolder(), 'data')) {
  const run = async (verb: Verb, words: string[], options: Call['options'] = {}) => {
    const answers: unknown[] = []
    const said: string[] = []
    const code = await verb.run({
      words,
      options,
      dataDir,
      json: true,
      say: (line) => said.push(line),
      answer: (document) => answers.push(document),
      complain: () => {},
      signal: new AbortController().signal,
    })
    expect(answers).toHaveLength(1)
    return { code, said: said.join('\n'), answer: answers[0] as never as Record<string, never> }
  }
  return { run, dataDir }
}

async function logged() {
  const folder = captureFolder('refractor')
  writeRun(folder, 4, { filter: null })
  const line = commandLine()
  const engine = await openEngine({ dataDir: line.dataDir })
  await engine.log([folder])
  await engine.close()
  return { ...line, folder }
}

test('rig set makes a rig, tells it in words and in JSON as the contract has it', async () => {
  const { run, folder } = await logged()
  expect((await run(rig, [])).said).toMatch(/There is no rig yet/)
  const { code, answer, said } = await run(rig, ['set', 'Refractor'], {
    folder,
    train: '480 mm',
    filter: 'Ha',
    body: 'A',
    site: '50.1,-8.2',
  })
  expect(code).toBe(0)
  expect(requests.rigs.output.parse(answer).rigs).toMatchObject([
    {
      name: 'Refractor',
      folder,
      train: '480 mm',
      filter: 'Ha',
      body: 'A',
      site: { latDeg: 50.1, longDeg: -8.2 },
      frames: 4,
    },
  ])
  expect(said).toMatch(/4 logged frames are understood anew\./)
  expect(said).toMatch(/Ha in the\s+drawer/)
  const forgotten = await run(rig, ['set', 'refractor'], { forget: ['train', 'body'] })
  expect(forgotten.answer.rigs).toMatchObject([{ name: 'Refractor', train: null, body: null, filter: 'Ha' }])
  expect((await run(rig, ['rename', 'Refractor', 'Long'])).answer.rigs).toMatchObject([{ name: 'Long', frames: 4 }])
  expect((await run(rig, ['remove', 'Long'])).answer).toEqual({ rigs: [] })
})

test('train log, undo and close answer with id, rig, scope, time, epoch and what is lost', async () => {
  const { run, folder } = await logged()
  await run(rig, ['set', 'Refractor'], { folder, filter: 'Ha' })
  const first = await run(train, ['log', 'Camera', 'turned'], { at: '2026-11-20T20:00:00Z' })
  expect(first.answer).toMatchObject({
    id: 1,
    rig: 'Refractor',
    scope: 'train',
    at: '2026-11-20T20:00:00.000Z',
    epoch: 'Refractor/1',
    losing: [],
    text: 'Camera turned',
  })
  const filter = await run(train, ['log', 'Cleaned'], { filter: 'Ha', at: '2026-11-20T23:30:00Z' })
  expect(filter.answer).toMatchObject({
    scope: 'filter',
    filter: 'Ha',
    losing: [{ kind: 'flat', lights: 4, count: 25 }],
  })
  expect(filter.said).toMatch(/Lights before it still need\n {2}25 flats: Ha/)
  expect((await run(train, ['undo', '2'])).answer).toMatchObject({ id: 2, epoch: null })
  expect((await run(train, ['undo', '1'])).answer).toMatchObject({ id: 1, epoch: null })

  const look = await run(train, ['close'], { look: true })
  expect(look.answer).toMatchObject({ id: null, rig: 'Refractor', losing: [{ kind: 'flat' }, { kind: 'darkFlat' }] })
  expect(look.said).toMatch(/nothing was closed\.\n\nWould be lost with it/)
  const closed = await run(train, ['close'])
  expect(closed.answer).toMatchObject({
    id: 3,
    closes: true,
    losing: [{ kind: 'flat', lights: 4 }, { kind: 'darkFlat' }],
  })
  expect(closed.said).toMatch(/Lost with it/)
  expect((await run(train, [])).answer.changes).toMatchObject([{ id: 3 }, { id: 2 }, { id: 1 }])
  expect((await run(train, ['close'], { look: true })).said).toMatch(/Nothing is lost/)
})

test('arguments that cannot be used are refused in one sentence, before anything is opened', async () => {
  const { run, dataDir } = commandLine()
  const bad: [Verb, string[], Call['options'], RegExp][] = [
    [rig, ['set'], {}, /Say which rig/],
    [rig, ['set', 'A', 'B'], {}, /too much/],
    [rig, ['paint', 'A'], {}, /rig set NAME/],
    [rig, [], { filter: 'Ha' }, /--filter belongs to "rig set NAME"/],
    [rig, ['set', 'A'], { site: '50' }, /like 50\.1,8\.2/],
    [rig, ['set', 'A'], { site: '91,0' }, /like 50\.1,8\.2/],
    [rig, ['set', 'A'], { filter: ' ' }, /--forget filter/],
    [rig, ['set', 'A'], { forget: ['folder'] }, /one of camera, body/],
    [rig, ['set', 'A'], { filter: 'Ha', forget: ['filter'] }, /cannot both be meant/],
    [rig, ['set', 'A'], { since: 'yesterday' }, /takes a moment like/],
    [train, ['log'], {}, /Say what was changed/],
    [train, ['log', 'x'], { scope: 'mount' }, /one of filter, train, camera/],
    [train, ['log', 'x'], { at: '22:00' }, /takes a moment like/],
    [train, ['undo'], {}, /by the number/],
    [train, ['undo', 'x'], {}, /by the number/],
    [train, ['close', 'R'], {}, /--rig R/],
    [train, ['close'], { filter: 'Ha' }, /--filter means nothing to "train close"/],
    [train, ['paint'], {}, /train log TEXT/],
  ]
  for (const [verb, words, options, sentence] of bad) {
    const error = await run(verb, words, options).catch((e: unknown) => e)
    expect(error, words.join(' ')).toBeInstanceOf(UsageError)
    expect((error as Error).message).toMatch(sentence)
  }
  expect(existsSync(dataDir)).toBe(false)
  const refused = await run(train, ['log', 'x']).catch((e: unknown) => e)
  expect(refused).toBeInstanceOf(Refusal)
})
