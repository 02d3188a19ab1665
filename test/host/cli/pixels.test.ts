import { mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { requests } from '../../../main/contract/index.ts'
import { openEngine } from '../../../main/engine/open.ts'
import { UsageError, type Call, type Verb } from '../../../main/host/cli/verb.ts'
import { build } from '../../../main/host/cli/verbs/build.ts'
import { measure } from '../../../main/host/cli/verbs/measure.ts'
import { normal, random } from '../../integrate/columns.ts'
import { writeFrame } from '../../measure/frames.ts'

const base = mkdtempSync(join(tmpdir(), 'nightshelf-pixel-verbs-'))
afterAll(() => rmSync(base, { recursive: true }))

async function run(verb: Verb, words: string[], options: Call['options'] = {}, dataDir = join(base, 'data')) {
  const answers: never[] = []
  const said: string[] = []
  const complaints: string[] = []
  const code = await verb.run({
    words,
    options,
    dataDir,
    json: true,
    say: (line) => said.push(line),
    answer: (document) => answers.push(document as never),
    complain: (sentence) => complaints.push(sentence),
    signal: new AbortController().signal,
  })
  return { code, answer: answers[0] as Record<string, Record<string, unknown>[]>, said: said.join('\n'), complaints }
}

const cards = (kind: string, exposureS: number, minute: number) => [
  { keyword: 'INSTRUME', value: 'Heron 11C' },
  { keyword: 'IMAGETYP', value: kind },
  { keyword: 'EXPTIME', value: exposureS, real: true },
  { keyword: 'GAIN', value: 120 },
  { keyword: 'OFFSET', value: 30 },
  { keyword: 'CCD-TEMP', value: -10, real: true },
  { keyword: 'BAYERPAT', value: 'RGGB' },
  { keyword: 'YBAYROFF', value: 1 },
  { keyword: 'DATE-OBS', value: `2026-11-20T21:${String(minute).padStart(2, '0')}:00` },
]

describe('the verb measure', { timeout: 60_000 }, () => {
  it('answers with figures of each frame, colours told by pattern and offset, and goes on past a bad file', async () => {
    const [good, cut] = [join(base, 'good.fits'), join(base, 'cut.fits')]
    // Rows of G and B first, as the offset says: G 10, B 20 · R 30, G 12.
    writeFrame(good, 2, Uint16Array.from([10, 20, 30, 12]), cards('Light', 60, 1))
    writeFrame(cut, 50, new Uint16Array(5000), cards('Light', 60, 2))
    truncateSync(cut, 9000)
    const { code, answer, said, complaints } = await run(measure, [good, cut])
    expect(code).toBe(1)
    expect(answer.frames).toEqual([
      {
        path: good,
        width: 2,
        height: 2,
        median: 16,
        mean: 18,
        sd: expect.closeTo(7.8740079, 6),
        min: 10,
        max: 30,
        clippedLow: 0,
        clippedHigh: 0,
        noise: 0,
        channels: { R: { median: 30, mean: 30 }, G: { median: 11, mean: 11 }, B: { median: 20, mean: 20 } },
      },
    ])
    expect(answer.problems).toEqual([{ path: cut, reason: expect.stringMatching(/^[A-Z].*\.$/) }])
    expect(complaints).toHaveLength(1)
    expect(said).toContain('median 16')
  })

  it('needs a file', async () => {
    await expect(run(measure, [])).rejects.toThrow(UsageError)
  })
})

describe('the verb build', { timeout: 60_000 }, () => {
  it('builds what is complete, tells what waits, and answers as the contract has it', async () => {
    const folder = mkdtempSync(join(base, 'capture-'))
    const next = random(4)
    const shoot = (kind: string, exposureS: number, count: number) => {
      for (let i = 0; i < count; i++)
        writeFrame(
          join(folder, `${kind}_${exposureS}_${i}.fits`),
          30,
          Uint16Array.from({ length: 600 }, () => 500 + 9 * normal(next)),
          cards(kind, exposureS, i + exposureS),
        )
    }
    shoot('Dark', 30, 5)
    shoot('Dark', 20, 3)
    writeFileSync(join(folder, 'notes.txt'), 'not a frame')
    const dataDir = join(base, 'built')
    const engine = await openEngine({ dataDir })
    await engine.log([folder])
    await engine.close()
    const { code, answer, said, complaints } = await run(build, [], { least: '5' }, dataDir)
    expect(code).toBe(1)
    expect(requests.startBuild.output.shape.outcome.parse(answer)).toBeTruthy()
    expect(answer.built).toMatchObject([{ kind: 'dark', exposureS: 30, frames: 5, rejected: [] }])
    expect(answer.waiting).toMatchObject([{ kind: 'dark', have: 3, need: 5, settings: { exposureS: 20 } }])
    expect(said).toContain('1 master built')
    expect(complaints).toEqual([
      'dark 20 s, gain 120, offset 30, −10.0 °C: There are 3 darks, and 5 are needed: shoot 2 more.',
    ])
    const later = await run(build, [], { kind: 'flat' }, dataDir)
    expect([later.code, later.answer]).toEqual([0, { built: [], waiting: [] }])
  })

  it('refuses what it cannot use', async () => {
    await expect(run(build, [], { kind: 'light' })).rejects.toThrow(UsageError)
    await expect(run(build, [], { least: '0' })).rejects.toThrow(UsageError)
    await expect(run(build, ['x.fits'])).rejects.toThrow(UsageError)
  })
})
