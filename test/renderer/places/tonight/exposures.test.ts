import { describe, expect, test } from 'vitest'
import { barPath, exposuresOf, gapsOf, roomForLabels } from '../../../../renderer/places/tonight/exposures.ts'
import {
  asideLine,
  coverage,
  darknessLine,
  gapWords,
  untimedLine,
} from '../../../../renderer/places/tonight/strip-words.ts'
import { run, tonight, verdict } from '../../support/night.ts'

const at = (clock: string) => Date.parse(`2026-11-20T${clock}:00Z`)
/** A run of 300 s exposures that begin so many minutes after 20:00. */
const shot = (id: string, minutes: number[], more: Parameters<typeof run>[1] = {}) =>
  run(id, {
    exposureS: 300,
    frames: minutes.length,
    startsS: minutes.map((minute) => (minute - minutes[0]!) * 60),
    firstAt: new Date(at('20:00') + minutes[0]! * 60_000).toISOString(),
    lastAt: new Date(at('20:00') + minutes.at(-1)! * 60_000).toISOString(),
    ...more,
  })

describe('exposures', () => {
  test('each has its own start and end', () => {
    expect(exposuresOf(shot('a', [0, 6]))).toEqual([
      { from: at('20:00'), to: at('20:05') },
      { from: at('20:06'), to: at('20:11') },
    ])
  })

  test('where single times are not given the run is drawn as one, and without any time not at all', () => {
    const { startsS: _, ...whole } = shot('a', [0, 6])
    expect(exposuresOf(whole)).toEqual([{ from: at('20:00'), to: at('20:11') }])
    expect(exposuresOf(run('none', { firstAt: null, lastAt: null }))).toEqual([])
  })

  test('are joined where the eye could not part them, and parted where it can', () => {
    const exposures = exposuresOf(shot('a', [0, 6, 30]))
    const hour = { from: at('20:00'), to: at('21:00') }
    // 60 px an hour: a minute is a pixel. The pause of one minute vanishes, that of 19 does not.
    expect(barPath(exposures, hour, 60, 10)).toBe('M0.0 0h11.0v10h-11.0zM30.0 0h5.0v10h-5.0z')
    expect(barPath(exposures, hour, 600, 10)).toBe('M0.0 0h50.0v10h-50.0zM60.0 0h50.0v10h-50.0zM300.0 0h50.0v10h-50.0z')
  })

  test('outside the view nothing is drawn, at its edge only what is inside', () => {
    const exposures = exposuresOf(shot('a', [0, 6]))
    expect(barPath(exposures, { from: at('21:00'), to: at('22:00') }, 600, 10)).toBe('')
    expect(barPath(exposures, { from: at('20:03'), to: at('20:05') }, 120, 10)).toBe('M0.0 0h120.0v10h-120.0z')
  })

  test('a single short exposure can still be seen', () => {
    expect(barPath([{ from: at('20:30'), to: at('20:30') }], { from: at('20:00'), to: at('21:00') }, 60, 10)).toContain(
      'h2.5',
    )
  })
})

describe('gaps', () => {
  const axis = { from: at('19:00'), to: at('23:00') }

  test('are stretches of ten minutes or more between the end of one frame and the start of the next', () => {
    expect(gapsOf([shot('a', [0, 6, 20, 40])], axis)).toEqual([
      { rig: 'Hill pier', from: at('20:25'), to: at('20:40') },
    ])
  })

  test('end with any frame of the rig, of another run or set aside, and not with another rig’s', () => {
    const runs = [shot('a', [0, 40]), shot('focus', [12, 24], { aside: true })]
    expect(gapsOf(runs, axis)).toEqual([{ rig: 'Hill pier', from: at('20:29'), to: at('20:40') }])
    const other = [shot('a', [0, 40]), shot('b', [12, 24], { rig: 'Roof' })]
    expect(gapsOf(other, axis).map(({ rig }) => rig)).toEqual(['Hill pier'])
  })

  test('a long exposure that outlasts those taken meanwhile leaves no gap', () => {
    const long = shot('long', [0], { exposureS: 3600 })
    expect(gapsOf([long, shot('b', [10, 65])], axis)).toEqual([])
  })

  test('carry their label where there is room for it before the next one and the edge', () => {
    const gaps = [
      { from: at('20:00'), to: at('20:20') },
      { from: at('20:25'), to: at('20:40') },
      { from: at('22:50'), to: at('23:00') },
    ]
    const labels = gaps.map(() => 'no frame for 20 min')
    expect(roomForLabels(gaps, labels, axis, 480)).toEqual([true, false, false])
    expect(roomForLabels(gaps, labels, axis, 4800)).toEqual([true, true, true])
  })
})

describe('words', () => {
  test('say which frames of a run are meant where not all are', () => {
    const due = { ...verdict('due', ''), counts: { matched: 21, due: 14 } }
    expect(coverage('dark', due, 35)).toBe('dark due for 14 of 35')
    expect(coverage('darkFlat', { ...due, counts: { due: 35 } }, 35)).toBe('dark flat due')
  })

  test('name a gap’s length, and its rig where there are several', () => {
    const gap = { rig: 'Roof', from: at('20:00'), to: at('20:24') }
    expect(gapWords(gap, false)).toBe('no frame for 24\u00a0min')
    expect(gapWords(gap, true)).toBe('no frame for 24\u00a0min (Roof)')
  })

  test('sum the aside frames by what they were for', () => {
    const focus = shot('f', [0, 1, 2], { aside: true, target: 'focus' })
    const none = shot('n', [4], { aside: true, target: null })
    expect(asideLine([focus, focus, none])).toBe('aside: 6\u00a0frames (focus), 1\u00a0frame (light)')
  })

  test('say when it is dark, or that it never is', () => {
    const sun = { ...tonight.sun!, darkestFrom: '2026-11-20T18:04:00Z', darkestTo: '2026-11-21T05:42:00Z' }
    expect(darknessLine(sun)).toMatch(
      /^Dark from \d\d:22 to \d\d:24 \(Sun below −12°\), darkest from \d\d:04 to \d\d:42/,
    )
    expect(darknessLine({ ...sun, darkestFrom: null })).toContain('never below −18°')
    expect(darknessLine({ ...sun, duskAt: null })).toContain('twilight throughout')
    expect(untimedLine([shot('a', [0])])).toContain('1\u00a0run without times stands in the table only')
  })
})
