import { mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { defaultTolerances, type Frame, type Master, type Need } from '../../main/contract/index.ts'
import { expectedRuns } from '../../main/demo/expected.ts'
import type { PlannedFrame } from '../../main/demo/plan.ts'
import { writeNight } from '../../main/demo/write-night.ts'
import { describeMaster } from '../../main/engine/library/describe-master.ts'
import { readFitsInfo } from '../../main/fits/file.ts'
import { describeFrame } from '../../main/frame/describe.ts'
import type { MatchContext } from '../../main/match/context.ts'
import { createJudge } from '../../main/match/judge.ts'
import { summariseRaw } from '../../main/match/raw.ts'
import { mistakes } from '../../main/demo/story.ts'
import { assess } from '../../main/rules/assess.ts'
import { sensorRulesFor } from '../../main/rules/sensor-rules.ts'

const dir = mkdtempSync(join(tmpdir(), 'nightshelf-demo-expected-'))
const frames: Frame[] = []
const masters: Master[] = []
const written: PlannedFrame[] = []
const shelf = new Map<number, string>()

function readFrame(root: string, path: string) {
  const info = readFitsInfo(path)
  const { width, height } = info.image!
  const file = { path, root, mtimeMs: statSync(path).mtimeMs, width, height }
  const facts = describeFrame(info.header, file, { zone: 'UTC', rig: null })
  const isWhole = info.fileSize >= info.leastLength
  return { info, facts: { ...facts, state: isWhole ? facts.state : ('broken' as const) } }
}

beforeAll(async () => {
  const options = { night: '2026-11-20', seed: 1, width: 96, height: 66, speed: null }
  await writeNight(dir, options, undefined, ({ path, frame }) => {
    written.push(frame)
    const { facts } = readFrame(join(dir, 'capture'), path)
    frames.push({ ...facts, id: frames.length + 1, figures: null })
  })
  for (const file of readdirSync(join(dir, 'library')).sort()) {
    const { info, facts } = readFrame(join(dir, 'library'), join(dir, 'library', file))
    const described = describeMaster(info, facts, {}, new Set())
    if (!('facts' in described)) throw new Error(`${file}: ${described.reason}`)
    const id = masters.length + 1
    shelf.set(id, file)
    masters.push({
      ...described.facts,
      id,
      path: join(dir, 'library', file),
      provenAt: null,
      ageDays: null,
      epoch: null,
      state: 'ready',
      sha256: '',
      figures: null,
      sources: [],
    })
  }
}, 60_000)
afterAll(() => rmSync(dir, { recursive: true }))

describe('the demo night, judged', () => {
  const context = (): MatchContext => ({
    now: '2026-11-21T15:00:00Z',
    tolerances: defaultTolerances,
    sensorRules: sensorRulesFor({}),
    changes: [],
    raw: summariseRaw(frames, masters, []),
  })
  const judgeNight = () => createJudge(masters, context())

  it('has the verdict that is foretold for every frame of every run', () => {
    const judge = judgeNight()
    for (const run of expectedRuns) {
      const mine = frames.filter(
        (f) =>
          f.kind === run.kind &&
          !f.aside &&
          f.state === 'ok' &&
          f.target === run.target &&
          f.filter === (run.filter === 'luminance' ? 'L' : run.filter) &&
          f.exposureS === run.exposureS &&
          f.offset === run.offset,
      )
      expect(mine.length, `${run.target} ${run.exposureS} s`).toBeGreaterThanOrEqual(run.frames - 1)
      for (const frame of mine) {
        const verdicts = judge(frame)
        for (const [need, foretold] of Object.entries(run.needs)) {
          const verdict = verdicts[need as Need]!
          const where = `${need} of ${frame.path}: ${verdict.text}`
          expect(verdict.verdict, where).toBe(foretold.verdict)
          const named = shelf.get((verdict.verdict === 'matched' ? verdict.master : verdict.nearest) ?? 0)
          if ('master' in foretold) expect(named, where).toBe(foretold.master)
          if (foretold.rawThere) expect(verdict.text).toContain(String(foretold.rawThere))
        }
      }
    }
  })

  it('leaves focus, pointing and trial frames and the one cut short without any need', () => {
    const judge = judgeNight()
    const aside = frames.filter((f) => f.aside || f.state === 'broken')
    expect(aside.length).toBe(2 + 3 + 9 + 7 + 5 + 5 + 5 + 5 + 1)
    for (const frame of aside) expect(judge(frame)).toEqual({})
  })

  it('opens a notice for every planted mistake, over its frames, and no other', () => {
    const state = { night: '2026-11-20', now: '2026-11-21T15:00:00Z', frames, masters, match: context() }
    const told = assess(state).notices.map(({ rule, frames: count }) => `${rule} ${count}`)
    const planted = Object.entries(mistakes).map(([name, { rule }]) => {
      const count = written.filter((frame) => frame.mistakes.some((m) => m === name)).length
      return `${rule} ${count}`
    })
    expect(told.sort()).toEqual(planted.sort())
  })

  it('knows every master but the one made elsewhere, whose scale and number of frames nobody told', () => {
    expect(masters.filter((m) => m.scale === null).map((m) => shelf.get(m.id))).toEqual([
      'master-dark-600s-from-elsewhere.fits',
    ])
    expect(masters.filter((m) => m.frames === null).length).toBe(1)
  })
})
