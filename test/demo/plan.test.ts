import { describe, expect, it } from 'vitest'
import { expectedRuns } from '../../main/demo/expected.ts'
import { shelf, takenAtMs } from '../../main/demo/library.ts'
import { instant, planNight } from '../../main/demo/plan.ts'
import { targets } from '../../main/demo/rig.ts'
import { mistakes, story, type MistakeName } from '../../main/demo/story.ts'

const plan = planNight('2026-11-20', 1)

describe('the plan of the demo night', () => {
  it('is the same for the same night and seed', () => {
    expect(planNight('2026-11-20', 1)).toEqual(plan)
    expect(planNight('2026-11-20', 2)).not.toEqual(plan)
  })

  it('ends each scene before the next begins, so that no two frames overlap', () => {
    for (let n = 1; n < plan.length; n++)
      expect(plan[n].startedAtMs, plan[n].path).toBeGreaterThanOrEqual(plan[n - 1].savedAtMs)
    const starts = story.map((scene) => instant('2026-11-20', scene.at))
    expect(starts).toEqual([...starts].sort((a, b) => a - b))
  })

  it('lies between local noon and the next, in ten hours of dark on any date', () => {
    // The site keeps UTC − 2: its noon is 14:00 UTC.
    expect(plan[0].startedAtMs).toBeGreaterThan(Date.parse('2026-11-20T20:00Z'))
    expect(plan.at(-1)!.savedAtMs).toBeLessThan(Date.parse('2026-11-21T08:00Z'))
  })

  it('names every frame once', () => {
    expect(new Set(plan.map((frame) => frame.path)).size).toBe(plan.length)
  })

  it('has the runs whose verdicts are foretold, frame for frame', () => {
    for (const run of expectedRuns) {
      const frames = plan.filter(
        (f) =>
          f.kind === run.kind &&
          !f.aside &&
          (f.target && targets[f.target].name) === run.target &&
          f.settings.filter === run.filter &&
          f.exposureS === run.exposureS &&
          f.settings.offset === run.offset,
      )
      expect(frames.length, `${run.target} ${run.filter} ${run.exposureS} s`).toBe(run.frames)
    }
    const foretold = expectedRuns.reduce((sum, run) => sum + run.frames, 0)
    expect(plan.filter((f) => !f.aside && (f.kind === 'light' || f.kind === 'flat')).length).toBe(foretold)
  })

  it('names masters that are on the shelf, all from earlier nights', () => {
    const files = new Set(shelf.map((master) => master.file))
    for (const run of expectedRuns)
      for (const need of Object.values(run.needs)) if ('master' in need) expect(files).toContain(need.master)
    for (const master of shelf)
      expect(takenAtMs(master, '2026-11-20')).toBeLessThan(plan[0].startedAtMs - 20 * 86_400_000)
  })

  it('plants every mistake in at least one frame', () => {
    for (const name of Object.keys(mistakes) as MistakeName[])
      expect(plan.filter((frame) => frame.mistakes.includes(name)).length, name).toBeGreaterThan(0)
  })

  it('turns the field at the flip, and changes nothing else but the slip of the offset', () => {
    const flip = plan.findIndex((frame) => frame.settings.side === 'WEST')
    const { side: before, offset: wasOffset, ...rest } = plan[flip - 1].settings
    const { side: after, offset, ...restAfter } = plan[flip].settings
    expect([before, after]).toEqual(['EAST', 'WEST'])
    expect([wasOffset, offset]).toEqual([30, 50])
    expect(restAfter).toEqual(rest)
  })

  it('holds its sensor within 0.3 °C of the set point in every light but eight, which stand a degree above it', () => {
    const off = plan.filter((f) => !f.aside && f.kind === 'light').map((f) => f.sensorTempC - f.settings.setTempC)
    expect(off.filter((d) => Math.abs(d) <= 0.3).length).toBe(off.length - 8)
    expect(off.filter((d) => d > 0.7).length).toBe(8)
  })
})
