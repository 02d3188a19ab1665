import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { Refusal } from '../../../main/contract/index.ts'
import { UsageError, type Call } from '../../../main/host/cli/verb.ts'
import { demo } from '../../../main/host/cli/verbs/demo.ts'

const base = mkdtempSync(join(tmpdir(), 'nightshelf-demo-verb-'))
afterAll(() => rmSync(base, { recursive: true }))

function call(words: string[], options: Call['options'], signal = new AbortController().signal) {
  const answers: unknown[] = []
  const said: string[] = []
  const run = demo.run({
    words,
    options,
    dataDir: base,
    json: true,
    say: (line) => said.push(line),
    answer: (document) => answers.push(document),
    complain: () => {},
    signal,
  })
  return { run, answers, said }
}

const small = { night: '2026-11-20', size: '96x66' }

describe('the verb demo', () => {
  it('answers with the capture folder, the library and the number of frames', async () => {
    const dir = join(base, 'night')
    const { run, answers } = call([dir], small)
    expect(await run).toBe(0)
    expect(answers).toEqual([{ dir: join(dir, 'capture'), library: join(dir, 'library'), frames: 298 }])
    expect(readdirSync(join(dir, 'library')).length).toBeGreaterThan(5)
  })

  it('refuses arguments that it cannot use in one sentence, and writes nothing', async () => {
    const dir = join(base, 'nothing')
    const bad: [string[], Call['options'], RegExp][] = [
      [[], {}, /one folder/],
      [[dir, 'more'], {}, /one folder/],
      [[dir], { night: '20.11.2026' }, /date like 2026-11-20/],
      [[dir], { night: '2026-02-30' }, /date like/],
      [[dir], { seed: 'x' }, /whole number/],
      [[dir], { seed: '-1' }, /whole number/],
      [[dir], { size: '100' }, /two even numbers/],
      [[dir], { size: '97x66' }, /two even numbers/],
      [[dir], { size: '60000x60000' }, /two even numbers/],
      [[dir], { speed: '60' }, /belongs to --live/],
      [[dir], { live: true, speed: '0' }, /above 0/],
    ]
    for (const [words, options, sentence] of bad) {
      const error = await call(words, options).run.catch((e: unknown) => e)
      expect(error).toBeInstanceOf(UsageError)
      expect((error as Error).message).toMatch(sentence)
    }
    expect(existsSync(dir)).toBe(false)
  })

  it('stopped while live says how to go on, and that is no failure; stopped otherwise it is one', async () => {
    const stop = new AbortController()
    const live = call([join(base, 'live')], { ...small, live: true, speed: '600' }, stop.signal)
    setTimeout(() => stop.abort(), 700)
    expect(await live.run).toBe(0)
    expect(live.said.at(-1)).toMatch(/^Stopped after \d+ frames; the same command goes on/)
    const stopped = call([join(base, 'stopped')], small, AbortSignal.abort())
    await expect(stopped.run).rejects.toThrow(Refusal)
  })
})
