import {
  closeSync,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
  writeSync,
} from 'node:fs'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { watchFolders, type Watcher, type WatchEvent } from '../../main/watch/watch.ts'
import { fitsBytes, freshFolder } from './files.ts'

/** With the system's own notifications, in real time. */
const whole = fitsBytes({ width: 300, height: 200 })
let folder: ReturnType<typeof freshFolder>
let watcher: Watcher
let events: WatchEvent[]
beforeEach(async () => {
  folder = freshFolder()
  mkdirSync(join(folder.path, 'lights'))
  events = []
  watcher = watchFolders({ folders: [folder.path], on: (event) => void events.push(event) })
  await watcher.ready
  await sleep(300)
})
afterEach(async () => {
  await watcher.close()
  folder.remove()
})
const told = (event: WatchEvent['event']) => events.filter((e) => e.event === event)
async function until(holds: () => boolean, ms = 5000): Promise<number> {
  const began = performance.now()
  while (!holds()) {
    if (performance.now() - began > ms) throw new Error('waited in vain')
    await sleep(1)
  }
  return performance.now() - began
}

describe('with the system’s notifications', () => {
  test('a frame written in place is told within a moment of its last byte, and once', async () => {
    for (let i = 0; i < 20; i++) {
      const path = join(folder.path, 'lights', `${i}.fits`)
      const fd = openSync(path, 'w')
      for (let at = 0; at < whole.length; at += 30_000) writeSync(fd, whole, at, Math.min(30_000, whole.length - at))
      closeSync(fd)
      await until(() => events.some((e) => e.event === 'complete' && e.path === path))
    }
    await sleep(200)
    expect(told('complete')).toHaveLength(20)
  })

  test('frames in a folder that was made just now are told too, renamed ones and moved ones', async () => {
    mkdirSync(join(folder.path, 'new/Ha'), { recursive: true })
    writeFileSync(join(folder.path, 'new/Ha/a.tmp'), whole)
    renameSync(join(folder.path, 'new/Ha/a.tmp'), join(folder.path, 'new/Ha/a.fits'))
    await until(() => told('complete').length === 1)
    renameSync(join(folder.path, 'new/Ha/a.fits'), join(folder.path, 'lights/a.fits'))
    await until(() => told('complete').length === 2 && told('gone').length === 1)
    rmSync(join(folder.path, 'lights/a.fits'))
    await until(() => told('gone').length === 2)
  })

  test('without a single notification, glances at the folders’ times find every frame', async () => {
    await watcher.close()
    events = []
    watcher = watchFolders({
      folders: [folder.path],
      on: (event) => void events.push(event),
      hints: () => ({ add: () => {}, remove: () => {}, close: async () => {} }),
      intervals: { glanceMs: 100 },
    })
    await watcher.ready
    for (let i = 0; i < 30; i++) {
      if (i % 10 === 0) mkdirSync(join(folder.path, `lights/deep/${i}`), { recursive: true })
      writeFileSync(join(folder.path, 'lights', i % 3 ? `${i}.fits` : `deep/${i - (i % 10)}/${i}.fits`), whole)
      await sleep(i % 7 ? 5 : 150)
    }
    await until(() => told('complete').length === 30)
  })

  test('a folder that goes and comes back is noticed, and listened to again', async () => {
    await watcher.close()
    events = []
    watcher = watchFolders({
      folders: [folder.path],
      on: (event) => void events.push(event),
      intervals: { rootMs: 100, glanceMs: 60_000 },
    })
    await watcher.ready
    renameSync(folder.path, folder.path + '-away')
    await until(() => told('folder lost').length === 1)
    renameSync(folder.path + '-away', folder.path)
    await until(() => told('folder back').length === 1)
    await sleep(300)
    writeFileSync(join(folder.path, 'lights/b.fits'), whole)
    await until(() => told('complete').length === 1)
    expect(told('gone')).toEqual([])
  })
})

test('watching leaves the folder as it is: no file comes, goes or changes, not even by its times', async () => {
  writeFileSync(join(folder.path, 'lights/a.fits'), whole)
  writeFileSync(join(folder.path, 'lights/short.fits'), whole.subarray(0, 5000))
  const times = () =>
    readdirSync(folder.path, { recursive: true, encoding: 'utf8' })
      .sort()
      .concat('.')
      .map((name) => {
        const { mtimeMs, ctimeMs, size, ino, nlink, mode } = statSync(join(folder.path, name))
        return { name, mtimeMs, ctimeMs, size, ino, nlink, mode }
      })
  const before = times()
  await until(() => told('complete').length === 1)
  await watcher.rescan()
  await sleep(500)
  expect(times()).toEqual(before)
})
