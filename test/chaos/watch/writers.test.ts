import { existsSync, mkdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import type { WatchEvent } from '../../../main/watch/watch.ts'
import { freshFolder, watchByHand } from '../../watch/files.ts'
import { dice, manners, writer, type Writer } from './writers.ts'

const runs = Number(process.env.CHAOS_WRITERS ?? 1000)
const each = 25
const batches = Math.ceil(runs / each)

/** Steps of all writers on one time axis. */
function timeline(writers: Writer[]) {
  return writers
    .flatMap((one) => {
      let at = 0
      return one.steps.map((step) => ({ ...step, at: (at += step.afterMs) }))
    })
    .sort((a, b) => a.at - b.at)
}

/** Plays one batch: some writers begin before the watch does; 30 % of all hints are lost. @returns what went wrong */
async function play(batch: number): Promise<string[]> {
  const folder = freshFolder()
  const d = dice(batch + 77_000)
  mkdirSync(join(folder.path, 'night/lights'), { recursive: true })
  const places = [folder.path, join(folder.path, 'night'), join(folder.path, 'night/lights')]
  const writers = Array.from({ length: each }, (_, i) => writer(batch * each + i, places[d.below(places.length)]))
  const whole = new Map(writers.map((one) => [one.path, one.bytes?.subarray(0, one.least)]))
  const wrong: string[] = []
  const told = new Map<string, number>()
  const on = (event: WatchEvent) => {
    if (event.event !== 'complete' || !whole.has(event.path)) return
    told.set(event.path, event.stat.modifiedMs)
    const bytes = whole.get(event.path)
    const there = readFileSync(event.path)
    if (!bytes || !there.subarray(0, bytes.length).equals(bytes))
      wrong.push(`${event.path} was told before its bytes were there`)
  }
  const steps = timeline(writers)
  const early = d.below(steps.length)
  for (const step of steps.slice(0, early)) step.run()
  const { watcher, pass, clock, hint } = await watchByHand(folder.path, { on })
  let now = steps[early]?.at ?? 0
  for (const step of steps.slice(early)) {
    if (step.at - now > 500) await pass(step.at - now, 5000)
    else clock.advance(step.at - now)
    now = step.at
    step.run()
    for (const path of step.touches) if (!d.chance(0.3)) hint(path)
  }
  await pass(60_000, 5000)
  for (const { path, bytes, manner } of writers) {
    if (bytes && !told.has(path)) wrong.push(`${path} (${manner}) was not told within 60 s`)
    if (!bytes && told.has(path)) wrong.push(`${path} (${manner}) was told although it is not whole`)
    if (!existsSync(path)) wrong.push(`${path} (${manner}) is not there: the writer is at fault`)
  }
  await watcher.close()
  folder.remove()
  return wrong
}

describe(`${batches * each} writers that stall, lay out, rename, cut and begin before us, with 30 % of the hints lost`, () => {
  test('the manners include one that gives up', () => expect(Object.keys(manners)).toContain('given up half way'))

  test('no frame is told before its bytes are there, and every whole one is told within 60 s', async () => {
    const wrong: string[] = []
    for (let batch = 0; batch < batches; batch++) wrong.push(...(await play(batch)))
    expect(wrong).toEqual([])
  }, 180_000)
})
