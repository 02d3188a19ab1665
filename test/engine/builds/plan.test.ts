import { describe, expect, it } from 'vitest'
import type { Frame } from '../../../main/contract/index.ts'
import { planBuilds, type PlannedBuild } from '../../../main/engine/builds/plan.ts'
import { sensorRulesFor } from '../../../main/rules/sensor-rules.ts'
import { context, figures, flat, frame, frames, master } from './frames.ts'

function atOnce(steps: ReturnType<typeof planBuilds>): PlannedBuild[] {
  let step = steps.next()
  while (!step.done) step = steps.next()
  return step.value
}
const plan = (raw: Frame[], more: Partial<Parameters<typeof planBuilds>[3]> = {}) =>
  atOnce(planBuilds(raw, [], context(), { least: 10, ...more }))
const reasons = (build: PlannedBuild) => build.leftOut.map(({ reason }) => reason)

describe('groups', () => {
  it('are told apart by every field of the key, by exposure and by set temperature', () => {
    const raw = [
      ...frames(10),
      ...frames(10, { gain: 100 }),
      ...frames(10, { offset: 50 }),
      ...frames(10, { exposureS: 180 }),
      ...frames(10, { setTempC: -15, sensorTempC: -15 }),
      ...frames(10, { binning: '2x2' }),
    ]
    const builds = plan(raw)
    expect(builds.map((b) => [b.kind, b.frames.length, b.reason])).toEqual(Array(6).fill(['dark', 10, null]))
    expect(new Set(builds.map((b) => b.id)).size).toBe(6)
  })

  it('take darks of several nights together, and exposures that differ by less than 0.1 %', () => {
    const raw = [...frames(6), ...frames(6, { night: '2026-11-21', exposureS: 300.2 })]
    expect(plan(raw).map((b) => b.frames.length)).toEqual([12])
  })

  it('take darks and dark flats of one key together, named by the label of the most', () => {
    const three = { exposureS: 3.2 }
    const [build] = plan([...frames(4, three), ...frames(8, { ...three, kind: 'darkFlat' })])
    expect([build.kind, build.frames.length]).toEqual(['darkFlat', 12])
  })

  it('of flats are of one filter, night, epoch and angle, and are not split by exposure', () => {
    const change = {
      id: 4,
      rig: 'Roof',
      scope: 'train',
      filter: null,
      text: '',
      closes: false,
      undoneAt: null,
    } as const
    const raw = [
      ...frames(12, (i) => flat({ exposureS: 3 + i / 10 })),
      ...frames(12, flat({ filter: 'OIII' })),
      ...frames(12, flat({ night: '2026-11-21' })),
      ...frames(12, flat({ mechAngleDeg: 90 })),
      ...frames(12, flat({ mechAngleDeg: 95 })),
      ...frames(12, flat({ startedAt: '2026-11-20T19:00:00.000Z' })),
    ]
    const changed = context({ changes: [{ ...change, at: '2026-11-20T21:00:00.000Z' }] })
    const builds = atOnce(planBuilds(raw, [], changed, { least: 10 }))
    expect(builds.map((b) => b.frames.length)).toEqual(Array(6).fill(12))
    expect(builds.map((b) => b.epoch)).toContain('Roof/4')
    expect(builds.map((b) => b.epoch)).toContain('Roof/0')
  })

  it('have the same identity however the frames come', () => {
    const raw = [...frames(10), ...frames(11, flat())]
    expect(plan([...raw].reverse()).map((b) => b.id)).toEqual(plan(raw).map((b) => b.id))
  })

  it('wait until there are enough, and say how many are lacking', () => {
    const [build] = plan(frames(7))
    expect(build.reason).toBe('There are 7 darks, and 10 are needed: shoot 3 more.')
    expect(plan(frames(7), { least: 7 })[0].reason).toBeNull()
  })
})

describe('frames that do not belong', () => {
  it('are left out and named: warm, brighter, uneven, cut short', () => {
    const raw = [
      ...frames(12, (i) => ({ figures: figures({ median: 520 + (i % 3) }) })),
      frame({ sensorTempC: -9.2 }),
      frame({ figures: figures({ median: 700 }) }),
      frame({ figures: figures({ sd: 45 }) }),
      frame({ state: 'broken', figures: null }),
    ]
    const [build] = plan(raw)
    expect(build.frames).toHaveLength(12)
    expect(reasons(build)).toEqual([
      'The sensor was at −9.2 °C, the others at −10.0 °C.',
      "Its level is 700 ADU, the others' 521 ADU: light got in, or it was warmer.",
      'It is less even than the others: light got in from one side.',
      'The file is cut short or damaged: copy it again from the camera computer.',
    ])
  })

  it('of flats: clipped, short, at another level, with stars in them', () => {
    const level = (median: number, sd = median / 10, clippedHigh = 0) => ({
      figures: figures({ median, sd, clippedHigh }),
    })
    const raw = [
      ...frames(12, (i) => flat(level(27000 + 200 * i))),
      frame(flat(level(28000, 2800, 900))),
      frame(flat({ exposureS: 2, ...level(28000) })),
      frame(flat(level(6000))),
      frame(flat(level(28000, 3300))),
    ]
    const [build] = plan(raw)
    expect(reasons(build)).toEqual([
      '11 % of its pixels are clipped.',
      'It was exposed for 2 s, below the 3 s that this class of sensor needs.',
      "Its level is 6 000 ADU, the others' 28 000 ADU.",
      'It is less even than the others: stars or a cloud are in it.',
    ])
    expect(build.frames).toHaveLength(12)
  })

  it('can be put back by hand, unless the file is broken', () => {
    const warm = frame({ sensorTempC: -9 })
    const broken = frame({ state: 'broken' })
    const [build] = plan([...frames(9), warm, broken], { keep: [warm.id, broken.id] })
    expect(build.frames.map((f) => f.id)).toContain(warm.id)
    expect(build.leftOut.map(({ frame }) => frame.id)).toEqual([broken.id])
    expect(build.reason).toBeNull()
  })

  it('are few: an ordinary set of darks and sky flats stays whole', () => {
    const darks = frames(20, (i) => ({ sensorTempC: -10 + 0.1 * (i % 4), figures: figures({ median: 518 + (i % 5) }) }))
    const sky = frames(20, (i) =>
      flat({ exposureS: 3 + i / 4, figures: figures({ median: 20000 + 900 * i, sd: 2000 + 90 * i }) }),
    )
    expect(plan([...darks, ...sky]).flatMap((b) => b.leftOut)).toEqual([])
  })
})

describe('the dark flat of a flat', () => {
  const flats = () => frames(20, flat())

  it('comes from the library where it is there', () => {
    const [build] = atOnce(planBuilds(flats(), [master()], context(), { least: 10 }))
    expect([build.reason, build.darkFlat]).toEqual([null, { master: 900, group: null, near: false }])
  })

  it('is built before, and a dark of the right key may serve', () => {
    const builds = plan([...flats(), ...frames(15, { exposureS: 3.2 })])
    expect(builds.map((b) => [b.kind, b.reason])).toEqual([
      ['dark', null],
      ['flat', null],
    ])
    expect(builds[1].darkFlat).toEqual({ master: null, group: builds[0].id, near: false })
  })

  it('may lie within 10 % for auto-exposed flats, and for those alone', () => {
    const near = master({ exposureS: 3.3 })
    const auto = frames(20, (i) => flat({ exposureS: 3.1 + i / 100 }))
    expect(atOnce(planBuilds(auto, [near], context(), { least: 10 }))[0].darkFlat).toEqual({
      master: 900,
      group: null,
      near: true,
    })
    expect(atOnce(planBuilds(flats(), [near], context(), { least: 10 }))[0].reason).toContain(
      'Its dark flat is missing',
    )
  })

  it('is said to be missing, with the settings to shoot, or to be too few yet', () => {
    expect(plan(flats())[0].reason).toBe(
      'Its dark flat is missing: shoot dark flats with 3.2 s, gain 120, offset 30, −10.0 °C.',
    )
    const [, waiting] = plan([...frames(4, { kind: 'darkFlat', exposureS: 3.2 }), ...flats()])
    expect(waiting.reason).toBe(
      'Its dark flat is not there yet: of dark flats at 3.2 s there are 4, and 10 are needed.',
    )
  })

  it('may be a bias only where the class of sensor allows it, and a bias is built only there', () => {
    const bias = { kind: 'bias', exposureS: 0 } as const
    const [refused, waits] = plan([...frames(20, bias), ...flats()])
    expect(refused.reason).toMatch(/^Sensors with amplifier glow need dark flats, not bias frames/)
    expect(waits.reason).toContain('Its dark flat is missing')
    const quiet = context({ sensorRules: sensorRulesFor({ classOf: { 'Heron 11C': 'quiet' } }) })
    const builds = atOnce(planBuilds([...frames(20, bias), ...flats()], [], quiet, { least: 10 }))
    expect(builds.map((b) => [b.kind, b.reason])).toEqual([
      ['bias', null],
      ['flat', null],
    ])
    expect(builds[1].darkFlat?.group).toBe(builds[0].id)
  })
})

describe('the method', () => {
  it('is sigma clipping from 16 frames on, and median/MAD below', () => {
    expect(plan(frames(16))[0].method).toEqual({ name: 'sigmaClip', low: 3, high: 3, rounds: 5 })
    expect(plan(frames(15))[0].method).toEqual({ name: 'madClip', low: 5, high: 5, rounds: 5, leastSigma: 1 })
    expect(plan(frames(2), { least: 2 })[0].method).toEqual({ name: 'mean' })
  })
})
