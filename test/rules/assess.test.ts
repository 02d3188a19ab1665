import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { Notice } from '../../main/contract/index.ts'
import { assess, newSounds } from '../../main/rules/assess.ts'
import { lastLook } from '../../main/rules/last-look.ts'
import { aMaster, aMasterFlat } from '../match/samples.ts'
import { at, figures, SimulatedNight, summarise, usualShelf } from './simulated-night.ts'

const darkOnly = () => [aMaster({ id: 1 }), aMaster({ id: 2, kind: 'darkFlat', exposureS: 3.5 })]
const one = (notices: readonly Notice[], rule: Notice['rule']) => {
  const found = notices.filter((n) => n.rule === rule)
  expect(found).toHaveLength(1)
  return found[0]
}
const known = (notices: readonly Notice[]) =>
  notices.map(({ id, openedAt, acknowledged, severity }) => ({ id, openedAt, acknowledged, severity }))

describe('a notice', () => {
  it('keeps its id and the time it opened while more frames come, and counts them all', () => {
    const night = new SimulatedNight(darkOnly()).lights(60)
    const early = one(night.assessAt('18:30').notices, 'no-flat')
    const later = one(night.assessAt('21:30', { known: known([early]) }).notices, 'no-flat')
    expect(later.id).toBe(early.id)
    expect(later.openedAt).toBe(early.openedAt)
    expect([early.frames, later.frames]).toEqual([5, 41])
    expect(later.frameIds).toHaveLength(41)
  })

  it('closes itself when its cause is gone', () => {
    const night = new SimulatedNight(darkOnly()).lights(30)
    expect(night.assessAt('20:40').notices).toHaveLength(1)
    night.masters.push(aMasterFlat({ id: 3 }))
    expect(night.assessAt('20:41').notices).toEqual([])
  })

  it('has another id for another cause and another night', () => {
    const night = new SimulatedNight([]).lights(10, { filter: 'L' }).lights(10, { filter: 'Ha' })
    const state = night.stateAt(at('19:45'))
    const ids = assess(state).notices.map((n) => n.id)
    expect(new Set(ids).size).toBe(3)
    const frames = state.frames.map((f) => ({ ...f, night: '2026-11-21' }))
    const other = assess({ ...state, night: '2026-11-21', frames }).notices.map((n) => n.id)
    expect(other.filter((id) => ids.includes(id))).toEqual([])
  })

  it('sounds only where something is lost by waiting', () => {
    const night = new SimulatedNight([]).lights(140)
    expect(night.assessAt('23:00').notices.map((n) => n.sounds)).toEqual([false, false])
    expect(one(night.assessAt('06:40').notices, 'no-flat').sounds).toBe(true)
    expect(one(night.assessAt('06:40').notices, 'no-dark').sounds).toBe(false)
  })

  it('is heard once: it sounds anew only where it did not before', () => {
    const night = new SimulatedNight(darkOnly()).lights(140)
    const before = night.assessAt('06:00').notices
    const dawn = night.assessAt('06:40', { known: known(before) }).notices
    const after = night.assessAt('06:45', { known: known(dawn) }).notices
    expect(newSounds(before, dawn).map((n) => n.rule)).toEqual(['no-flat'])
    expect(newSounds(dawn, after)).toEqual([])
    expect(newSounds([], after)).toHaveLength(1)
  })

  it('is quiet once acknowledged, and speaks again when "before teardown" has become "now"', () => {
    const night = new SimulatedNight(darkOnly()).lights(140)
    const heard = known(night.assessAt('23:00').notices).map((n) => ({ ...n, acknowledged: true }))
    expect(one(night.assessAt('23:30', { known: heard }).notices, 'no-flat').acknowledged).toBe(true)
    const dawn = one(night.assessAt('06:40', { known: heard }).notices, 'no-flat')
    expect([dawn.acknowledged, dawn.sounds]).toEqual([false, true])
    const again = known([dawn]).map((n) => ({ ...n, acknowledged: true }))
    expect(one(night.assessAt('06:50', { known: again }).notices, 'no-flat').sounds).toBe(false)
  })

  it('wakes nobody for a night that is over, and opens at the end of that night', () => {
    const notice = one(new SimulatedNight(darkOnly()).lights(140).assessLater().notices, 'no-flat')
    expect(notice.sounds).toBe(false)
    expect(Date.parse(notice.openedAt)).toBeLessThanOrEqual(Date.parse('2026-11-21T12:30:00Z'))
  })

  it('says what it is in one short sentence, and why with what to do', () => {
    const night = new SimulatedNight(usualShelf()).lights(40).lights(30, { offset: 50 })
    const texts = night.assessAt('23:50').notices.map((n) => [n.text, n.why])
    expect(texts).toEqual(
      [
        [
          'Flat only near for 29 lights: offset 30, the light has 50',
          'Offset 30, the light has 50 (18 days old, 30 frames). Shoot fresh ones, or one check frame to see whether it holds: nothing is scaled to fit.',
        ],
        [
          'Offset changed from 30 to 50 at 21:22',
          '29 lights of Heart 1 differ from the run before in this one setting: a slip? They need darks and flats of their own.',
        ],
        [
          'No dark for 29 lights: 300 s, gain 120, offset 50, −10.0 °C',
          'None yet; nearest: offset 30, the light has 50. Shoot 20 darks (300 s, gain 120, offset 50, −10.0 °C) at any time: camera only, light-tight cap.',
        ],
      ].sort(([a], [b]) => texts.findIndex(([t]) => t === a) - texts.findIndex(([t]) => t === b)),
    )
  })

  it('tells how to set the panel', () => {
    const night = new SimulatedNight(usualShelf())
    const at41200 = { exposureS: 3, figures: figures({ median: 41_200 }) }
    night.masters.push(aMaster({ id: 9, kind: 'darkFlat', exposureS: 3 }))
    const notice = one(night.lights(5).flats(25, at41200).assessAt('19:00').notices, 'flat-level')
    expect(notice.text).toBe(
      'dual-band flats at 41 200 ADU: dim the panel to 68 %, or expose 2.0 s: below the 3 s floor, so dim',
    )
  })

  it('names dark flats of the wrong length', () => {
    const night = new SimulatedNight(usualShelf())
      .lights(20)
      .flats(25, { exposureS: 4.5 })
      .darkFlats(20, { exposureS: 5.4 })
    const notice = one(night.assessAt('20:30').notices, 'no-dark-flat')
    expect(notice.text).toBe('No dark flat for 25 flats (dual-band) of 4.5 s')
    expect(notice.why).toContain('20 dark flats are there, but of 5.4 s; the flats have 4.5 s.')
  })
})

describe('the shortfall', () => {
  it('lists flats with every setting to type in, their dark flats right after, then darks', () => {
    const night = new SimulatedNight([]).lights(60)
    const { shortfall } = night.assessAt('23:30')
    expect(shortfall.map((r) => [r.kind, r.count, r.urgency, r.lights, r.lightS])).toEqual([
      ['flat', 25, 'beforeTeardown', 60, 18_000],
      ['darkFlat', 20, 'beforeTeardown', 60, 18_000],
      ['dark', 20, 'anyTime', 60, 18_000],
    ])
    const [flat, darkFlat, dark] = shortfall
    expect(flat.settings).toMatchObject({
      camera: 'Owl 26C',
      filter: 'dual-band',
      gain: 120,
      offset: 30,
      setTempC: -10,
      exposureS: 3,
      binning: '1x1',
      rig: 'Fell End',
    })
    expect(darkFlat.settings).toMatchObject({ gain: 120, offset: 30, setTempC: -10, exposureS: 3 })
    expect(dark.settings).toMatchObject({ gain: 120, offset: 30, setTempC: -10, exposureS: 300 })
    expect(dark.reason).toContain('Any time, camera only, light-tight cap.')
  })

  it('counts the time with the readout that the night has shown', () => {
    const night = new SimulatedNight([])
    night.readoutS = 7
    const dark = night
      .lights(60)
      .assessAt('23:30')
      .shortfall.find((r) => r.kind === 'dark')
    expect(dark?.seconds).toBe(20 * (300 + 7))
    expect(dark?.reason).not.toContain('assumed')
  })

  it('says so where the readout is assumed', () => {
    const dark = new SimulatedNight([])
      .lights(3)
      .assessAt('18:20')
      .shortfall.find((r) => r.kind === 'dark')
    expect(dark?.seconds).toBe(20 * 303)
    expect(dark?.reason).toContain('3 s of readout a frame assumed.')
  })

  it('asks for what is still lacking, and for nothing once enough are there', () => {
    const night = new SimulatedNight([aMasterFlat({ id: 3 })]).lights(20).until('20:00').darks(20)
    const rows = (time: string) => night.assessAt(time).shortfall.map((r) => [r.kind, r.count, r.have])
    expect(rows('20:00')).toEqual([['dark', 20, 0]])
    expect(rows('20:31')).toEqual([['dark', 14, 6]])
    expect(rows('21:45')).toEqual([])
  })

  it('begins flats with the exposure of the last flats of that filter', () => {
    const night = new SimulatedNight([...darkOnly(), aMasterFlat({ exposureS: 4.2 })]).change().lights(20)
    const [flat, darkFlat] = night.assessAt('20:00').shortfall
    expect([flat.settings.exposureS, darkFlat.settings.exposureS]).toEqual([4.2, 4.2])
    expect(flat.reason).toContain('4.2 s: as the last flats of this filter')
  })

  it('never suggests less than the floor of the class', () => {
    const night = new SimulatedNight([...darkOnly(), aMasterFlat({ exposureS: 0.8 })]).change().lights(20)
    const [flat] = night.assessAt('20:00').shortfall
    expect(flat.settings.exposureS).toBe(3)
    expect(flat.reason).toContain('too short for this sensor')
  })

  it('asks for no dark flats where the shelf has them', () => {
    const night = new SimulatedNight([...darkOnly(), aMasterFlat({ exposureS: 3.5 })]).change().lights(20)
    expect(night.assessAt('20:00').shortfall.map((r) => r.kind)).toEqual(['flat'])
  })

  it('asks for the dark flats of flats that were shot tonight', () => {
    const night = new SimulatedNight(usualShelf()).lights(20).flats(25, { exposureS: 6 })
    const [row, ...others] = night.assessAt('20:30').shortfall
    expect(others).toEqual([])
    expect(row).toMatchObject({ kind: 'darkFlat', count: 20, urgency: 'beforeTeardown', lights: 20 })
    expect(row.settings.exposureS).toBe(6)
  })

  it('asks for fresh frames where there is only a near match, and for none where something is unconfirmed', () => {
    const near = new SimulatedNight([aMaster({ id: 1, sensorTempC: -11.5 }), aMasterFlat({ id: 3 })]).lights(20)
    expect(near.assessAt('20:00').shortfall.map((r) => r.kind)).toEqual(['dark'])
    const unconfirmed = new SimulatedNight([aMaster({ id: 1, offset: null }), aMasterFlat({ id: 3 })]).lights(20)
    expect(unconfirmed.assessAt('20:00').shortfall).toEqual([])
  })

  it('asks for nothing that cannot be shot any more', () => {
    const night = new SimulatedNight(darkOnly()).lights(20).change({ closes: true })
    expect(night.assessAt('20:00').shortfall).toEqual([])
    const gone = new SimulatedNight([]).lights(20)
    gone.context = { gone: ['OWL 26C'] }
    expect(gone.assessAt('20:00').shortfall).toEqual([])
  })

  it('asks for dark flats of flats at any time once the rig is apart', () => {
    const night = new SimulatedNight(darkOnly()).lights(20).flats(25, { exposureS: 6 }).change({ closes: true })
    expect(night.assessAt('20:30').shortfall.map((r) => [r.kind, r.urgency])).toEqual([['darkFlat', 'anyTime']])
  })

  it('puts what is most urgent first, then what most light waits for', () => {
    const night = new SimulatedNight([])
      .lights(10, { filter: 'L' })
      .lights(30, { filter: 'Ha' })
      .lights(20, { filter: 'R' })
    const rows = night.assessAt('23:30').shortfall.map((r) => r.settings.filter ?? r.kind)
    // The three filters share one exposure, so one set of dark flats serves them all.
    expect(rows).toEqual(['Ha', 'darkFlat', 'R', 'L', 'dark'])
  })

  it('puts the dark flats of the flats that were just shot before everything of their urgency, once their run is whole or has ended', () => {
    const through = (filter: string) => ({ filter, exposureS: 6 })
    const lights = () => new SimulatedNight(darkOnly()).lights(30, { filter: 'Ha' }).lights(5, { filter: 'L' })
    const firstAt = (night: SimulatedNight, time: string) => {
      const [row] = night.assessAt(time).shortfall
      return `${row.kind} ${row.settings.exposureS ?? ''} ${row.settings.filter ?? ''}`.trim()
    }
    const whole = lights().flats(25, through('L'))
    const aMinuteAfter = ({ frames }: SimulatedNight) =>
      new Date(Date.parse(frames.at(-1)!.startedAt!) + 66_000).toISOString().slice(11, 16)
    expect(firstAt(whole, aMinuteAfter(whole))).toBe('darkFlat 6')
    const begun = lights().flats(4, through('L'))
    expect(firstAt(begun, aMinuteAfter(begun))).toMatch(/^flat .*Ha$/)
    expect(firstAt(begun, '23:30')).toBe('darkFlat 6')
    // The next filter's flats are being shot: theirs are the last now.
    const next = whole.flats(4, { filter: 'R', exposureS: 8 })
    expect(firstAt(next, aMinuteAfter(next))).toMatch(/^flat .*Ha$/)
  })

  it('carries the cautions where they belong', () => {
    const rows = new SimulatedNight([]).lights(10).assessAt('20:00').shortfall
    const cautions = Object.fromEntries(rows.map((r) => [r.kind, r.cautions.join()]))
    expect(cautions.flat).toMatch(/never point an uncapped telescope near the Sun/)
    expect(cautions.dark).toMatch(/warm the cooler up slowly, as the camera's maker says/)
    expect(cautions.darkFlat).toBe('')
  })
})

describe('a run', () => {
  it('has the verdict of its worst frame, with the count of each', () => {
    const night = new SimulatedNight(usualShelf()).lights(20).lights(4, { sensorTempC: -3 })
    const [run] = night.assessAt('23:00').runs
    expect(run.frames).toBe(24)
    expect(run.verdicts.dark?.verdict).toBe('due')
    expect(run.verdicts.dark?.counts).toEqual({ matched: 20, due: 4 })
    expect(run.verdicts.flat?.counts).toEqual({ matched: 24 })
  })

  it('judges a thermometer that flickers by its median', () => {
    const night = new SimulatedNight(usualShelf()).lights(21, (i) => ({ sensorTempC: [-10, -9.3, -10.6][i % 3] }))
    expect(night.assessAt('23:00').runs[0].verdicts.dark?.counts).toEqual({ matched: 21 })
  })

  it('holds no file that is broken, gone or a master', () => {
    const night = new SimulatedNight(usualShelf())
      .lights(5)
      .lights(1, { state: 'broken' })
      .lights(1, { state: 'gone' })
      .lights(1, { combined: 20 })
    expect(night.assessAt('23:00').runs.map((r) => r.frames)).toEqual([5])
  })

  it('has no verdicts where its frames are set aside', () => {
    const night = new SimulatedNight([]).lights(5, { aside: true, asideWhy: 'focus' })
    const { runs, notices, shortfall } = night.assessAt('19:00')
    expect(runs[0].verdicts).toEqual({})
    expect([notices, shortfall]).toEqual([[], []])
  })
})

describe('the last look before a rig is taken apart', () => {
  const night = () => new SimulatedNight([]).lights(20).lights(10, { rig: 'Roof', filter: 'L' })

  it('lists what would be lost, all of it to be done now, and nothing of other rigs', () => {
    const { losing, notices } = lastLook(night().stateAt(at('21:00')), 'Fell End')
    expect(losing.map((r) => [r.kind, r.urgency, r.settings.rig])).toEqual([
      ['flat', 'actNow', 'Fell End'],
      ['darkFlat', 'actNow', 'Fell End'],
    ])
    expect(summarise(notices)).toEqual(['no-flat actNow 20'])
    expect(notices[0].sounds).toBe(true)
  })

  it('is empty where nothing would be', () => {
    const state = new SimulatedNight(usualShelf()).lights(20).stateAt(at('21:00'))
    expect(lastLook(state, 'Fell End')).toEqual({ losing: [], notices: [] })
  })
})

describe('an assessment', () => {
  const busy = () =>
    new SimulatedNight([aMaster({ id: 1, sensorTempC: -11.5 })])
      .lights(10)
      .lights(6, { offset: 50 })
      .shoot(3, { aside: true, kind: 'light' })
      .change()
      .lights(8, { filter: 'L', exposureS: 60 })
      .flats(12, { filter: 'L' })
      .lights(2, { state: 'broken' })
      .darks(4)

  it('does not depend on the order in which frames, masters and changes came', () => {
    const state = busy().stateAt(at('23:00'))
    const expected = assess(state)
    fc.assert(
      fc.property(fc.shuffledSubarray(state.frames, { minLength: state.frames.length }), (frames) => {
        const match = {
          ...state.match,
          changes: [...state.match.changes].reverse(),
          raw: [...(state.match.raw ?? [])].reverse(),
        }
        expect(assess({ ...state, frames, match, masters: [...state.masters].reverse() })).toEqual(expected)
      }),
      { numRuns: 60 },
    )
  })

  it('leaves the state as it was and gives the same answer twice', () => {
    const state = busy().stateAt(at('23:00'))
    const before = JSON.stringify({ ...state, match: { ...state.match, sensorRules: null } })
    expect(assess(state)).toEqual(assess(state))
    expect(JSON.stringify({ ...state, match: { ...state.match, sensorRules: null } })).toBe(before)
  })

  it('of a past night does not depend on how long ago it was', () => {
    const night = busy()
    const months = assess({ ...night.stateAt('2026-11-25T12:00:00Z'), now: '2027-06-01T00:00:00Z' })
    expect(months.notices).toEqual(night.assessLater().notices)
  })

  it('knows no site: dawn is then taken for six by the Sun of the zone', () => {
    const night = new SimulatedNight(darkOnly()).lights(100)
    night.state = { endsAt: '2026-11-21T12:00:00Z' }
    expect(summarise(night.assessAt('05:59').notices)).toContain('no-flat beforeTeardown 100')
    expect(summarise(night.assessAt('06:01').notices)).toEqual(['no-flat actNow 100'])
  })
})
