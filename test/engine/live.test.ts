import { closeSync, copyFileSync, fsyncSync, openSync, renameSync, rmSync, writeFileSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { describe, expect, test } from 'vitest'
import { countFrames, frameById } from '../../db/tables/frames.ts'
import { openEngine } from '../../main/engine/open.ts'
import { freshEngine, listenTo, StillClock } from './engines.ts'
import { frameBytes, freshFolder, writeFrame, writeRun } from './night-files.ts'

async function watching(folder: string) {
  const engine = await freshEngine({ live: true })
  const told = listenTo(engine)
  const { folder: watched } = await engine.ask('watchFolder', { path: folder })
  await engine.settled()
  return { engine, told, watched }
}

test('a frame that lands is told with its verdicts and its number', async () => {
  const folder = freshFolder()
  writeRun(folder, 2)
  const { engine, told } = await watching(folder)
  await told.until(() => countFrames(engine.db) === 2)
  writeFrame(folder, 'light_9.fits', { startedAt: '2026-11-20T22:00:00', seed: 90 })
  await told.until(() => told.of('landed').some(({ frame }) => frame.path.endsWith('light_9.fits')))
  const landed = told.of('landed').at(-1)!
  expect(landed).toMatchObject({ number: 3, frame: { kind: 'light', state: 'ok', night: '2026-11-20' } })
  expect(landed.verdicts.dark?.verdict).toBe('due')
  expect(landed.verdicts.flat?.verdict).toBe('due')
  expect((await engine.ask('tonight', {})).latest[0]).toMatchObject({ number: 3, frame: { id: landed.frame.id } })
})

test('the verdict changes with the master that is added, and listeners hear that it did', async () => {
  const folder = freshFolder()
  const { engine, told } = await watching(folder)
  const elsewhere = freshFolder()
  const master = writeFrame(elsewhere, 'master-dark.fits', {
    kind: 'Dark',
    startedAt: '2026-11-01T20:00:00',
    seed: 60,
    more: [
      { keyword: 'NCOMBINE', value: 20 },
      { keyword: 'BUNIT', value: 'ADU' },
      { keyword: 'SUBTRACT', value: 'none' },
    ],
  })
  const [path] = writeRun(folder, 1)
  await told.until(() => told.of('landed').length === 1)
  expect(told.of('landed')[0]).toMatchObject({ frame: { path }, verdicts: { dark: { verdict: 'due' } } })
  const { added } = await engine.ask('addMasters', { paths: [master] })
  await told.until(() => told.of('changed').some(({ what }) => what.includes('library')))
  const { latest } = await engine.ask('tonight', {})
  expect(latest[0].verdicts.dark).toMatchObject({ verdict: 'matched', master: added[0].id })
})

test('a backlog is logged with progress and not announced frame by frame', async () => {
  const folder = freshFolder()
  writeRun(folder, 300)
  const { engine, told } = await watching(folder)
  await told.until(() => countFrames(engine.db) === 300)
  await told.until(() => told.of('progress').some(({ job, state }) => job === 'backlog' && state === 'done'))
  expect(told.of('landed').length).toBe(0)
  const { folders } = await engine.ask('folders', {})
  expect(folders).toMatchObject([{ path: folder, frames: 300, reachable: true }])
})

test('a frame that is written slowly is told once, when its last byte is there', async () => {
  const folder = freshFolder()
  const { engine, told } = await watching(folder)
  const bytes = frameBytes({ seed: 5 })
  const path = join(folder, 'slow.fits')
  const fd = openSync(path, 'w')
  let writtenAt = 0
  for (let at = 0; at < bytes.length; at += 1000) {
    writeSync(fd, bytes, at, Math.min(1000, bytes.length - at))
    fsyncSync(fd)
    writtenAt = performance.now()
    await sleep(60)
    expect(told.of('landed').length === 0 || at + 1000 >= bytes.length).toBe(true)
  }
  closeSync(fd)
  await told.until(() => told.of('landed').length === 1)
  expect(performance.now() - writtenAt).toBeLessThan(5_000)
  expect(countFrames(engine.db)).toBe(1)
})

test('a duplicate is logged, not announced; a renamed frame is the same frame', async () => {
  const folder = freshFolder()
  const { engine, told } = await watching(folder)
  const [path] = writeRun(folder, 1)
  await told.until(() => told.of('landed').length === 1)
  copyFileSync(path, join(folder, 'copy.fits'))
  renameSync(path, join(folder, 'renamed.fits'))
  await told.until(() => frameById(engine.db, 1)?.path !== path)
  await engine.settled()
  expect(countFrames(engine.db)).toBe(1)
  expect(frameById(engine.db, 1)?.state).toBe('ok')
  expect(told.of('landed')).toHaveLength(1)
})

test('a frame rewritten in place is amended and told again', async () => {
  const folder = freshFolder()
  const { engine, told } = await watching(folder)
  const [path] = writeRun(folder, 1)
  await told.until(() => told.of('landed').length === 1)
  writeFileSync(path, frameBytes({ exposureS: 60, seed: 3 }))
  await told.until(() => told.of('landed').length === 2)
  expect(told.of('landed')[1].frame).toMatchObject({ id: 1, exposureS: 60 })
  expect(countFrames(engine.db)).toBe(1)
})

test('a folder that goes away is told within seconds; its frames are out of reach, not gone, and come back with it', async () => {
  const folder = freshFolder()
  const night = join(folder, 'night')
  writeRun(night, 3)
  const { engine, told } = await watching(night)
  await told.until(() => countFrames(engine.db) === 3)
  renameSync(night, join(folder, 'unplugged'))
  await told.until(() => told.of('changed').some(({ what }) => what.includes('folders')), 15_000)
  for (;;) {
    const { folders, notices } = await engine.ask('tonight', {})
    if (folders[0].reachable) await sleep(200)
    else {
      expect(notices.map((notice) => notice.rule)).toContain('watch-lost')
      break
    }
  }
  expect((await engine.ask('frame', { id: 1 })).frame.state).toBe('out of reach')
  expect(frameById(engine.db, 1)?.state).toBe('ok')
  renameSync(join(folder, 'unplugged'), night)
  for (;;) {
    const { folders } = await engine.ask('tonight', {})
    if (folders[0].reachable) break
    await sleep(200)
  }
  await engine.settled()
  expect((await engine.ask('frame', { id: 1 })).frame.state).toBe('ok')
  expect(countFrames(engine.db)).toBe(3)
}, 60_000)

test('a deleted frame is gone', async () => {
  const folder = freshFolder()
  const [path] = writeRun(folder, 2)
  const { engine, told } = await watching(folder)
  await told.until(() => countFrames(engine.db) === 2)
  rmSync(path)
  await told.until(() => frameById(engine.db, 1)?.state === 'gone')
  expect(countFrames(engine.db)).toBe(2)
})

test('a folder that is watched no more is left alone, and what was logged stays', async () => {
  const folder = freshFolder()
  writeRun(folder, 1)
  const { engine, told, watched } = await watching(folder)
  await told.until(() => countFrames(engine.db) === 1)
  await engine.ask('unwatchFolder', { id: watched.id })
  writeFrame(folder, 'later.fits', { seed: 8 })
  await sleep(500)
  expect(countFrames(engine.db)).toBe(1)
  expect((await engine.ask('folders', {})).folders).toEqual([])
})

describe('two programs on one data folder', () => {
  test('a window notices within a second what the command line wrote', async () => {
    const folder = freshFolder()
    writeRun(folder, 4)
    const window = await freshEngine({ live: true })
    const told = listenTo(window)
    const other = await openEngine({ dataDir: window.dataDir, clock: new StillClock(), zone: 'UTC' })
    await other.log([folder])
    await other.close()
    await told.until(() => told.of('changed').some(({ what }) => what.includes('night')), 2_000)
    expect((await window.ask('tonight', {})).runs[0].frames).toBe(4)
  })

  test('a window that watches and a command line that logs the same folder at once log each frame once', async () => {
    const folder = freshFolder()
    writeRun(folder, 400)
    const { engine, told } = await watching(folder)
    const other = await openEngine({ dataDir: engine.dataDir, clock: new StillClock(), zone: 'UTC' })
    const report = await other.log([folder])
    await other.close()
    await engine.settled()
    await told.until(() => countFrames(engine.db) === 400)
    expect(report.summary.seen).toBe(400)
    expect(report.problems).toEqual([])
    expect(engine.db.pragma('integrity_check', { simple: true })).toBe('ok')
  })
})

test('figures come in the second lane, with the hash of the whole file and a small picture', async () => {
  const folder = freshFolder()
  const { engine, told } = await watching(folder)
  const [path] = writeRun(folder, 1)
  await told.until(() => (frameById(engine.db, 1)?.figures ?? null) !== null, 20_000)
  const { createHash } = await import('node:crypto')
  const { readFileSync } = await import('node:fs')
  const stored = engine.db.prepare('SELECT hex(sha256) FROM frame_figures').pluck().get() as string
  expect(stored.toLowerCase()).toBe(createHash('sha256').update(readFileSync(path)).digest('hex'))
  expect(frameById(engine.db, 1)?.figures).toMatchObject({ width: 32, height: 24 })
  const picture = await engine.ask('file', { of: 'frame', id: 1, view: 'thumbnail.png' })
  expect(readFileSync(picture.path).subarray(1, 4).toString()).toBe('PNG')
  expect((await engine.ask('tonight', {})).figuresPending).toBe(0)
})
