import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { VERDICTS, type Frame, type Master, type TrainChange, type Verdict } from '../../main/contract/index.ts'
import type { MatchContext } from '../../main/match/context.ts'
import { createJudge } from '../../main/match/judge.ts'
import { settingsOf } from '../../main/match/raw.ts'
import { sensorRulesFor } from '../../main/rules/sensor-rules.ts'
import { aChange, aContext, aFlat, aLight, aMaster } from './samples.ts'

const day = (n: number) => new Date(Date.parse('2026-11-01T00:00:00Z') + n * 43_200_000).toISOString()

/** Values close enough to each other that every verdict comes up often. */
const shared = {
  gain: fc.constantFrom(120, '120', 100, null),
  offset: fc.constantFrom(30, 50, null),
  body: fc.constantFrom(null, null, 'A17', 'B02'),
  rig: fc.constantFrom('Fell End', 'Roof', null),
  train: fc.constantFrom(null, null, 'Lark'),
  filter: fc.constantFrom('L', 'Ha', null),
  setTempC: fc.constantFrom(-10, null),
  sensorTempC: fc.constantFrom(-10, -9.9, -9.5, -9.4, -8.2, -7, 4, null),
  mechAngleDeg: fc.constantFrom(null, null, 90, 90.6, 92),
  cfa: fc.constantFrom('RGGB', 'GRBG', null),
}
const exposureS = fc.constantFrom(300, 300.2, 290, 3.5, 3.3, null)
const frames: fc.Arbitrary<Frame> = fc
  .record({ ...shared, exposureS, startedAt: fc.integer({ min: 0, max: 60 }).map(day), flat: fc.boolean() })
  .map(({ flat, ...s }) => {
    const frame = { ...s, id: 1, night: s.startedAt.slice(0, 10) }
    return flat ? aFlat(frame) : aLight(frame)
  })
const masters: fc.Arbitrary<Master[]> = fc
  .array(
    fc.record({
      ...shared,
      exposureS,
      kind: fc.constantFrom('dark' as const, 'darkFlat' as const, 'flat' as const, 'bias' as const),
      madeAt: fc.oneof(fc.integer({ min: 0, max: 60 }).map(day), fc.constant(null)),
      provenAt: fc.oneof(fc.constant(null), fc.integer({ min: 0, max: 60 }).map(day)),
      frames: fc.constantFrom(5, 20, 30, null),
      scale: fc.constantFrom('adu' as const, 'adu' as const, null),
      subtracted: fc.constantFrom('none' as const, 'none' as const, 'bias' as const, null),
      state: fc.constantFrom('ready' as const, 'ready' as const, 'ready' as const, 'retired' as const),
    }),
    { maxLength: 14 },
  )
  .map((all) => all.map((m, i) => aMaster({ ...m, id: i + 1 })))
const changes: fc.Arbitrary<TrainChange[]> = fc.array(
  fc
    .record({
      id: fc.integer({ min: 1, max: 9 }),
      at: fc.integer({ min: 0, max: 60 }).map(day),
      rig: fc.constantFrom('Fell End', 'Roof'),
      scope: fc.constantFrom('train' as const, 'filter' as const, 'camera' as const),
      filter: fc.constantFrom('L', 'Ha'),
      undoneAt: fc.constantFrom(null, null, day(60)),
    })
    .map((c) => aChange({ ...c, filter: c.scope === 'filter' ? c.filter : null })),
  { maxLength: 3 },
)
const contexts: fc.Arbitrary<MatchContext> = fc
  .record({ changes, quiet: fc.boolean(), gone: fc.boolean(), twins: fc.boolean() })
  .map(({ quiet, gone, twins, ...c }) =>
    aContext({
      ...c,
      sensorRules: sensorRulesFor(quiet ? { classOf: { 'Owl 26C': 'quiet' } } : {}),
      gone: gone ? ['Owl 26C'] : [],
      twins: twins ? ['Owl 26C'] : [],
    }),
  )

/** Settles what `missing` or `lost` and `due` compare to: none of the three is better than another, there is no master. */
const rank = (verdict: Verdict | undefined) =>
  Math.min(VERDICTS.indexOf(verdict?.verdict ?? 'matched'), VERDICTS.indexOf('due'))

describe('a verdict', () => {
  it('does not depend on the order in which masters, changes and frames came', () =>
    fc.assert(
      fc.property(fc.array(frames, { minLength: 1, maxLength: 8 }), masters, contexts, (own, library, context) => {
        const judge = createJudge(library, context)
        const turned = createJudge([...library].reverse(), { ...context, changes: [...context.changes].reverse() })
        const first = own.map((frame) => judge(frame))
        const second = [...own].reverse().map((frame) => turned(frame))
        expect(second.reverse()).toEqual(first)
      }),
      { numRuns: 1500 },
    ))

  it('does not get worse when a master is added, whatever it is', () =>
    fc.assert(
      fc.property(frames, masters, contexts, (frame, library, context) => {
        fc.pre(library.length > 0)
        const before = createJudge(library.slice(1), context)(frame)
        const after = createJudge(library, context)(frame)
        for (const need of ['dark', 'flat', 'darkFlat'] as const)
          expect(rank(after[need])).toBeLessThanOrEqual(rank(before[need]))
      }),
      { numRuns: 1500 },
    ))

  it('becomes matched when a master equal in everything is added', () =>
    fc.assert(
      fc.property(frames, masters, contexts, (frame, library, context) => {
        fc.pre(frame.exposureS !== null && frame.rig !== null)
        const equal = {
          ...settingsOf(frame),
          madeAt: frame.startedAt,
          provenAt: null,
          subtracted: 'none' as const,
          scale: 'adu' as const,
        }
        const added = [aMaster({ ...equal, id: 100, kind: 'dark' }), aMaster({ ...equal, id: 101, kind: 'flat' })]
        const after = createJudge([...library, ...added], context)(frame)
        for (const verdict of Object.values(after)) expect(verdict.verdict).toBe('matched')
      }),
      { numRuns: 800 },
    ))

  it('chooses by a total order: the chosen one wins against each other master alone', () =>
    fc.assert(
      fc.property(frames, masters, contexts, (frame, library, context) => {
        const chosen = createJudge(library, context)(frame)
        for (const need of ['dark', 'flat', 'darkFlat'] as const) {
          const id = chosen[need]?.master
          if (id == null) continue
          const winner = library.find((m) => m.id === id) as Master
          for (const other of library) {
            const pair = other === winner ? [winner] : [other, winner]
            expect(createJudge(pair, context)(frame)[need]?.master).toBe(id)
          }
        }
      }),
      { numRuns: 800 },
    ))

  it('is the same whether the judge is asked once or often, and leaves what it was given as it was', () =>
    fc.assert(
      fc.property(fc.array(frames, { minLength: 1, maxLength: 6 }), masters, contexts, (own, library, context) => {
        const before = JSON.stringify([own, library, context])
        const judge = createJudge(library, context)
        for (const frame of [...own, ...own]) expect(judge(frame)).toEqual(createJudge(library, context)(frame))
        expect(JSON.stringify([own, library, context])).toBe(before)
      }),
      { numRuns: 500 },
    ))

  it('never calls a master matched whose exposure is not within 0.1 % or 10 ms: nothing is scaled', () =>
    fc.assert(
      fc.property(frames, masters, contexts, (frame, library, context) => {
        const verdicts = createJudge(library, context)(frame)
        for (const verdict of [verdicts.dark, verdicts.darkFlat]) {
          const master = library.find((m) => m.id === verdict?.master)
          if (!master || master.kind === 'bias') continue
          const apart = Math.abs((master.exposureS ?? 0) - (frame.exposureS ?? 0))
          expect(apart).toBeLessThanOrEqual(Math.max(0.01, (frame.exposureS ?? 0) * 0.001) + 1e-9)
        }
      }),
    ))
})
