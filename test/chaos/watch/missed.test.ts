import { mkdirSync, renameSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { systemHints, type HintSource } from '../../../main/watch/hints.ts'
import { defaultIntervals } from '../../../main/watch/intervals.ts'
import { watchFolders, type WatchEvent } from '../../../main/watch/watch.ts'
import { fitsBytes, freshFolder } from '../../watch/files.ts'
import { dice } from './writers.ts'

/** `CHAOS_FILES=40000 CHAOS_PACE=1` plays it at full size and with the intervals of a real night. */
const files = Number(process.env.CHAOS_FILES ?? 2000)
const pace = Number(process.env.CHAOS_PACE ?? 0.1)
const perFolder = 500
const { rootMs, glanceMs } = defaultIntervals
const whole = fitsBytes({ width: 10, height: 10 })

/** The system's notifications, of which three in ten never come. */
const lossy =
  (d: ReturnType<typeof dice>): HintSource =>
  (onHint, onError) =>
    systemHints((path) => void (d.chance(0.3) || onHint(path)), onError)

test(`of ${files} frames written while 30 % of the events are lost, and the folder is away for a while, none is missed`, async () => {
  const folder = freshFolder()
  const told = new Map<string, number>()
  const lost: WatchEvent[] = []
  const watcher = watchFolders({
    folders: [folder.path],
    hints: lossy(dice(4)),
    intervals: { rootMs: rootMs * pace, glanceMs: glanceMs * pace },
    on: (event) => {
      if (event.event === 'complete') told.set(event.path, (told.get(event.path) ?? 0) + 1)
      else if (event.event !== 'swept') lost.push(event)
    },
  })
  await watcher.ready
  const paths: string[] = []
  for (let i = 0; i < files; i++) {
    const place = join(folder.path, `night/${Math.floor(i / perFolder)}`)
    if (i % perFolder === 0) mkdirSync(place, { recursive: true })
    const path = join(place, `${i}.fits`)
    writeFileSync(path, whole)
    paths.push(path)
    if (i % 20 === 0) await sleep(1)
    if (i !== Math.floor(files / 2)) continue
    const away = folder.path + '-away'
    renameSync(folder.path, away)
    await sleep(rootMs * pace * 2)
    expect(lost.filter((e) => e.event === 'folder lost')).toHaveLength(1)
    for (let j = 0; j < 10; j++) writeFileSync(join(away, `away${j}.fits`), whole)
    renameSync(away, folder.path)
    paths.push(...Array.from({ length: 10 }, (_, j) => join(folder.path, `away${j}.fits`)))
  }
  const wanted = new Set(paths)
  const written = performance.now()
  // The bar is 30 s: one glance. A busy machine gets a little on top for the looks themselves.
  const most = 30_000 * pace + 5_000
  while (told.size < wanted.size && performance.now() - written < most) await sleep(10)
  const caughtUpS = ((performance.now() - written) / 1000).toFixed(1)
  console.log(`${told.size} of ${wanted.size} frames told, caught up ${caughtUpS} s after the last was written`)
  expect([...wanted].filter((path) => !told.has(path))).toEqual([])
  expect([...told].filter(([path, times]) => times !== 1 || !wanted.has(path))).toEqual([])
  expect(lost.map((e) => e.event)).toEqual(['folder lost', 'folder back'])
  await watcher.close()
  folder.remove()
}, 240_000)
