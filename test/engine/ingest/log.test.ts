import { copyFileSync, mkdirSync, renameSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { countFrames, frameById } from '../../../db/tables/frames.ts'
import { cardsOf } from '../../../db/tables/cards.ts'
import { readFitsInfo } from '../../../main/fits/file.ts'
import type { Engine } from '../../../main/engine/open.ts'
import { freshEngine } from '../engines.ts'
import { frameBytes, freshFolder, writeFrame, writeRun } from '../night-files.ts'

const summary = async (engine: Engine, ...dirs: string[]) => (await engine.log(dirs)).summary
const none = { seen: 0, logged: 0, amended: 0, already: 0, unreadable: 0 }

test('every frame below a folder is logged once, in path order, and again logs nothing', async () => {
  const folder = freshFolder()
  const paths = [
    ...writeRun(folder, 5),
    writeFrame(folder, 'b/x.fits', { seed: 50 }),
    writeFrame(folder, 'b.fits', { seed: 51 }),
  ]
  const engine = await freshEngine()
  const report = await engine.log([folder])
  expect(report.summary).toEqual({ ...none, seen: 7, logged: 7 })
  expect(report.problems).toEqual([])
  expect(engine.framesOf(report).map((frame) => frame.path)).toEqual(paths.sort())
  expect(await summary(engine, folder)).toEqual({ ...none, seen: 7, already: 7 })
  expect(countFrames(engine.db)).toBe(7)
})

test('what the header says stands in the log, with every card byte for byte', async () => {
  const folder = freshFolder()
  const path = writeFrame(folder, 'light.fits', { gain: 139, filter: 'OIII', exposureS: 180 })
  const engine = await freshEngine()
  const report = await engine.log([folder])
  const [frame] = engine.framesOf(report)
  expect(frame).toMatchObject({
    kind: 'light',
    gain: 139,
    offset: 30,
    exposureS: 180,
    night: '2026-11-20',
    state: 'ok',
  })
  expect(cardsOf(engine.db, frame.id)?.equals(Buffer.from(readFitsInfo(path).headerBytes))).toBe(true)
  const answer = await engine.ask('frame', { id: frame.id })
  expect(answer.cards.find((card) => card.keyword === 'GAIN')?.value).toBe('139')
})

test('folders that overlap, and a file named beside its folder, are logged once', async () => {
  const folder = freshFolder()
  const [first] = writeRun(join(folder, 'night'), 3)
  const engine = await freshEngine()
  expect(await summary(engine, folder, join(folder, 'night'), first)).toEqual({ ...none, seen: 3, logged: 3 })
})

describe('the same bytes and the same name', () => {
  test('a frame under a new name is the same frame moved', async () => {
    const folder = freshFolder()
    const [path] = writeRun(folder, 1)
    const engine = await freshEngine()
    const [before] = engine.framesOf(await engine.log([folder]))
    renameSync(path, join(folder, 'renamed.fits'))
    const report = await engine.log([folder])
    expect(report.summary).toEqual({ ...none, seen: 1, already: 1 })
    expect(report.files[0].how).toBe('moved')
    expect(frameById(engine.db, before.id)).toMatchObject({ path: join(folder, 'renamed.fits'), state: 'ok' })
  })

  test('a copy is a duplicate: counted as already there, logged once, and it takes over when the first one goes', async () => {
    const folder = freshFolder()
    const [path] = writeRun(folder, 1)
    const copy = join(folder, 'z-copy.fits')
    copyFileSync(path, copy)
    const engine = await freshEngine()
    const report = await engine.log([folder])
    expect(report.summary).toEqual({ ...none, seen: 2, logged: 1, already: 1 })
    expect(engine.framesOf(report).map((frame) => [frame.id, frame.path])).toEqual([
      [1, path],
      [1, copy],
    ])
    rmSync(path)
    await engine.log([folder])
    expect(frameById(engine.db, 1)).toMatchObject({ path: copy, state: 'ok' })
  })

  test('a name with new bytes is amended, and its row stays one', async () => {
    const folder = freshFolder()
    const [path] = writeRun(folder, 1)
    const engine = await freshEngine()
    await engine.log([folder])
    writeFileSync(path, frameBytes({ exposureS: 120, seed: 9 }))
    expect(await summary(engine, folder)).toEqual({ ...none, seen: 1, amended: 1 })
    expect(countFrames(engine.db)).toBe(1)
    expect(frameById(engine.db, 1)?.exposureS).toBe(120)
  })

  test('two frames that swap names stay two frames, each where its bytes are', async () => {
    const folder = freshFolder()
    const [a, b] = writeRun(folder, 2)
    const engine = await freshEngine()
    const before = engine.framesOf(await engine.log([folder]))
    renameSync(a, join(folder, 'tmp'))
    renameSync(b, a)
    renameSync(join(folder, 'tmp'), b)
    expect(await summary(engine, folder)).toEqual({ ...none, seen: 2, already: 2 })
    expect(frameById(engine.db, before[0].id)).toMatchObject({ path: b, startedAt: before[0].startedAt, state: 'ok' })
    expect(frameById(engine.db, before[1].id)).toMatchObject({ path: a, startedAt: before[1].startedAt, state: 'ok' })
  })

  test('a renamed frame whose old name holds a new one: both are there, neither twice', async () => {
    const folder = freshFolder()
    const [path] = writeRun(folder, 1)
    const engine = await freshEngine()
    await engine.log([folder])
    renameSync(path, join(folder, 'moved.fits'))
    writeFileSync(path, frameBytes({ seed: 77, startedAt: '2026-11-20T22:00:00' }))
    await engine.log([folder])
    expect(countFrames(engine.db)).toBe(2)
    expect(await summary(engine, folder)).toEqual({ ...none, seen: 2, already: 2 })
  })

  test('a rewritten frame of which a copy lives on keeps its row, and the new bytes get one of their own', async () => {
    const folder = freshFolder()
    const [path] = writeRun(folder, 1)
    const copy = join(folder, 'z-copy.fits')
    copyFileSync(path, copy)
    const engine = await freshEngine()
    await engine.log([folder])
    writeFileSync(path, frameBytes({ seed: 88 }))
    expect(await summary(engine, folder)).toEqual({ ...none, seen: 2, logged: 1, already: 1 })
    expect(frameById(engine.db, 1)?.path).toBe(copy)
    expect(frameById(engine.db, 2)?.path).toBe(path)
  })

  test('two frames with equal headers are told apart by their pixels', async () => {
    const folder = freshFolder()
    writeFrame(folder, 'a.fits', { seed: 1 })
    writeFrame(folder, 'b.fits', { seed: 2 })
    expect(await summary(await freshEngine(), folder)).toEqual({ ...none, seen: 2, logged: 2 })
  })

  test('a file that was only touched is already there', async () => {
    const folder = freshFolder()
    const [path] = writeRun(folder, 1)
    const engine = await freshEngine()
    await engine.log([folder])
    utimesSync(path, new Date(), new Date())
    expect(await summary(engine, folder)).toEqual({ ...none, seen: 1, already: 1 })
  })

  test('a deleted frame is gone, stays in the log, and is itself again when it comes back', async () => {
    const folder = freshFolder()
    const [path] = writeRun(folder, 2)
    const bytes = frameBytes({ seed: 1, startedAt: '2026-11-20T21:00:00' })
    const engine = await freshEngine()
    await engine.log([folder])
    rmSync(path)
    await engine.log([folder])
    expect(frameById(engine.db, 1)?.state).toBe('gone')
    writeFileSync(path, bytes)
    expect(await summary(engine, folder)).toEqual({ ...none, seen: 2, already: 2 })
    expect(frameById(engine.db, 1)?.state).toBe('ok')
  })

  test('a folder that cannot be reached marks nothing as gone', async () => {
    const folder = freshFolder()
    const night = join(folder, 'night')
    writeRun(night, 2)
    const engine = await freshEngine()
    await engine.log([night])
    renameSync(night, join(folder, 'away'))
    const report = await engine.log([night])
    expect(report.problems).toHaveLength(1)
    expect(frameById(engine.db, 1)?.state).toBe('ok')
  })
})

describe('broken frames', () => {
  test('a truncated file is logged as broken, is a problem on each run, and is amended when it is whole', async () => {
    const folder = freshFolder()
    const path = join(folder, 'cut.fits')
    const whole = frameBytes()
    mkdirSync(folder, { recursive: true })
    writeFileSync(path, whole.subarray(0, whole.length - 2880))
    const engine = await freshEngine()
    for (const outcome of ['logged', 'already'] as const) {
      const report = await engine.log([folder])
      expect(report.summary).toEqual({ ...none, seen: 1, [outcome]: 1 })
      expect(report.problems).toEqual([{ path, reason: expect.stringMatching(/cut off.*copy it again/) as string }])
      expect(engine.framesOf(report)[0].state).toBe('broken')
    }
    writeFileSync(path, whole)
    expect(await summary(engine, folder)).toEqual({ ...none, seen: 1, amended: 1 })
    expect(frameById(engine.db, 1)?.state).toBe('ok')
  })

  test('a file that got its length first and was never filled is broken', async () => {
    const folder = freshFolder()
    const { encodeFits } = await import('../../../main/fits/write.ts')
    const image = new Uint16Array(400 * 400).fill(1234)
    const bytes = encodeFits({ width: 400, height: 400, bitpix: 16, unsigned: true, cards: [], image, checksum: false })
    bytes.fill(0, bytes.length - 150_000)
    writeFileSync(join(folder, 'preallocated.fits'), bytes)
    const report = await (await freshEngine()).log([folder])
    expect(report.problems[0].reason).toMatch(/only zeros/)
  })

  test('a master among raw frames is offered, and stays out of the runs of its night', async () => {
    const folder = freshFolder()
    writeRun(folder, 3)
    const master = writeFrame(folder, 'm.fits', {
      kind: 'Master Dark',
      seed: 70,
      more: [{ keyword: 'NCOMBINE', value: 20 }],
    })
    const engine = await freshEngine()
    const report = await engine.log([folder])
    expect(report.files.filter((file) => file.integrated).map((file) => file.path)).toEqual([master])
    const { runs } = await engine.ask('tonight', {})
    expect(runs.reduce((sum, run) => sum + run.frames, 0)).toBe(3)
  })

  test('a frame without a date belongs to the night in which its file was last changed', async () => {
    const folder = freshFolder()
    const path = writeFrame(folder, 'undated.fits', { startedAt: null as never })
    utimesSync(path, new Date('2026-11-18T23:00:00Z'), new Date('2026-11-18T23:00:00Z'))
    const engine = await freshEngine()
    expect(engine.framesOf(await engine.log([folder]))[0]).toMatchObject({ startedAt: null, night: '2026-11-18' })
  })
})

test('nothing is written into the folder: names, sizes and times stay as they were', async () => {
  const folder = freshFolder()
  const paths = writeRun(folder, 3)
  const before = [folder, ...paths].map((path) => statSync(path))
  await (await freshEngine()).log([folder])
  const after = [folder, ...paths].map((path) => statSync(path))
  expect(after.map((s) => [s.size, s.mtimeMs, s.ctimeMs, s.ino])).toEqual(
    before.map((s) => [s.size, s.mtimeMs, s.ctimeMs, s.ino]),
  )
})

test('a run that is stopped keeps what it has, and the next one goes on', async () => {
  const folder = freshFolder()
  writeRun(folder, 700)
  const engine = await freshEngine()
  const stop = new AbortController()
  await expect(engine.log([folder], { signal: stop.signal, onProgress: () => stop.abort() })).rejects.toThrow(/Stopped/)
  const kept = countFrames(engine.db)
  expect(kept).toBeGreaterThan(0)
  expect(kept).toBeLessThan(700)
  expect(await summary(engine, folder)).toEqual({ ...none, seen: 700, logged: 700 - kept, already: kept })
})
