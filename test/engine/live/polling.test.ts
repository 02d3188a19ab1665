import { closeSync, mkdirSync, openSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { countFrames } from '../../../db/tables/frames.ts'
import { nearDisk, type Disk } from '../../../main/watch/disk.ts'
import type { HintSource } from '../../../main/watch/hints.ts'
import { systemHints } from '../../../main/watch/hints.ts'
import { freshEngine, listenTo } from '../engines.ts'
import { frameBytes, freshFolder, writeFrame } from '../night-files.ts'

/** The system's notifications, and the folders for which anybody asked for them. */
function overheard() {
  const listening = new Set<string>()
  const hints: HintSource = (onHint, onError) => {
    const system = systemHints(onHint, onError)
    return { ...system, add: (folder) => (listening.add(folder), system.add(folder)) }
  }
  return { listening, hints }
}
const intervals = { rootMs: 500, pollMs: 300 }

test('a folder that the user lets be looked through needs no notification, and is listened to again when told so', async () => {
  const folder = freshFolder()
  const { listening, hints } = overheard()
  const engine = await freshEngine({ live: true, watching: { hints, intervals } })
  const told = listenTo(engine)
  const { folder: watched } = await engine.ask('watchFolder', { path: folder, polling: true })
  expect(watched).toMatchObject({ polling: true, pollingChosen: true })
  await engine.settled()
  writeFrame(join(folder, 'M31/Ha'), 'first.fits', { seed: 2 })
  await told.until(() => told.of('landed').length === 1)
  expect([...listening]).toEqual([])

  const { folder: heard } = await engine.ask('pollFolder', { id: watched.id, polling: null })
  expect(heard).toMatchObject({ polling: false, pollingChosen: null })
  await expect.poll(() => [...listening], { timeout: 5_000 }).toContain(folder)
  await engine.settled()
  writeFrame(folder, 'second.fits', { seed: 3 })
  await told.until(() => told.of('landed').length === 2)
  await expect(engine.ask('pollFolder', { id: 99, polling: true })).rejects.toThrow('no watched folder')
})

test('a folder on a network is looked through by itself, and says so', async () => {
  const folder = freshFolder()
  const { listening, hints } = overheard()
  const watching = { hints, intervals, isNetwork: (path: string) => path === folder }
  const engine = await freshEngine({ live: true, watching })
  const told = listenTo(engine)
  await engine.ask('watchFolder', { path: folder })
  await engine.settled()
  writeFrame(folder, 'first.fits', { seed: 2 })
  await told.until(() => told.of('landed').length === 1)
  const { folders } = await engine.ask('folders', {})
  expect(folders).toMatchObject([{ polling: true, pollingChosen: null }])
  expect([...listening]).toEqual([])
})

/** Writes a frame as a slow capture program would, piece by piece. */
async function expose(path: string, bytes: Buffer): Promise<void> {
  const fd = openSync(path, 'w')
  for (let at = 0; at < bytes.length; at += 1500) {
    writeSync(fd, bytes, at, Math.min(1500, bytes.length - at))
    await sleep(5)
  }
  closeSync(fd)
}

test('four capture programs that write at once into four folders, one of them looked through: every frame once, on its rig', async () => {
  const base = freshFolder()
  const names = ['pier', 'roof', 'shed', 'far']
  for (const name of names) mkdirSync(join(base, name))
  const engine = await freshEngine({ live: true, watching: { intervals } })
  const told = listenTo(engine)
  for (const name of names)
    await engine.ask('watchFolder', { path: join(base, name), ...(name === 'far' && { polling: true }) })
  await engine.settled()
  const each = 8
  await Promise.all(
    names.map(async (name, n) => {
      for (let i = 0; i < each; i++) {
        const startedAt = new Date(Date.parse('2026-11-20T20:00:00Z') + i * 60_000).toISOString().slice(0, 19)
        const bytes = frameBytes({ startedAt, camera: `Testcam ${n}`, seed: 100 * n + i })
        // All programs number their frames alike.
        await expose(join(base, name, `light_${i}.fits`), bytes)
      }
    }),
  )
  await told.until(() => told.of('landed').length >= names.length * each, 20_000)
  await engine.settled()
  expect(countFrames(engine.db)).toBe(names.length * each)
  const landed = told.of('landed').map(({ frame }) => frame)
  expect(new Set(landed.map((frame) => frame.path)).size).toBe(names.length * each)
  const rigs = Map.groupBy(landed, (frame) => frame.rig)
  expect([...rigs].map(([rig, frames]) => [rig, frames.length]).sort()).toEqual(
    names.map((name) => [name, each]).sort(),
  )
}, 40_000)

test('a disk that never answers again keeps nothing in other folders from the log, and is told as lost', async () => {
  const base = freshFolder()
  const [dead, well] = [join(base, 'dead'), join(base, 'well')]
  for (const folder of [dead, well]) mkdirSync(folder)
  let hangs = false
  const never = new Promise<never>(() => {})
  const diskOf = (root: string): Disk => {
    const disk = nearDisk(root)
    if (root !== dead) return disk
    return {
      ...disk,
      look: (path, before) => (hangs ? never : disk.look(path, before)),
      identify: () => (hangs ? never : disk.identify()),
    }
  }
  const engine = await freshEngine({
    live: true,
    watching: { diskOf, intervals: { ...intervals, answerMs: 1_000 }, isNetwork: (path) => path === dead },
  })
  const told = listenTo(engine)
  for (const path of [dead, well]) await engine.ask('watchFolder', { path })
  await engine.settled()
  writeFrame(dead, 'before.fits', { seed: 2 })
  await told.until(() => told.of('landed').length === 1)
  hangs = true
  writeFrame(dead, 'during.fits', { seed: 3 })
  await expect
    .poll(async () => (await engine.ask('tonight', {})).notices.map((notice) => notice.rule), { timeout: 8_000 })
    .toContain('watch-lost')
  const began = performance.now()
  writeFrame(well, 'light.fits', { seed: 4 })
  await told.until(() => told.of('landed').length === 2)
  expect(performance.now() - began).toBeLessThan(2_000)
  expect(told.of('landed')[1].frame.path).toBe(join(well, 'light.fits'))
}, 30_000)
