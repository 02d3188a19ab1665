import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { openDatabase } from '../../db/open.ts'
import { countFrames } from '../../db/tables/frames.ts'
import { followMoves, leaveSign } from '../../main/engine/data-folder/follow.ts'
import { openEngine, type Engine } from '../../main/engine/open.ts'
import { freshEngine, listenTo, StillClock } from './engines.ts'
import { freshFolder, writeRun } from './night-files.ts'
import { addMaster, captureFolder } from './rigs/shelf.ts'

const frames = ({ db }: Engine) => countFrames(db)
const reopen = (dataDir: string) => openEngine({ dataDir, clock: new StillClock(), zone: 'UTC' })

/** Does what its host does: closes it when it asks for that, and opens it again. */
async function again(engine: Engine, dataDir: string): Promise<Engine> {
  await engine.leaving
  await engine.close()
  return reopen(dataDir)
}

async function withFrames(n: number) {
  const folder = captureFolder('night')
  writeRun(folder, n)
  const engine = await freshEngine()
  await engine.log([folder])
  return { engine, folder, data: engine.dataDir }
}

describe('restoring a copy', () => {
  test('puts it in place, keeps what was there aside, and that can be restored in turn', async () => {
    const { engine, folder, data } = await withFrames(3)
    const { path } = await engine.ask('backUp', {})
    writeRun(folder, 5, { target: 'Another' })
    await engine.log([folder])
    const later = frames(engine)
    expect(later).toBeGreaterThan(3)
    const { backups } = await engine.ask('backups', {})
    expect(backups).toMatchObject([{ aside: false, at: '2026-11-20T23:00:00.000Z', bytes: statSync(path).size }])

    await engine.ask('restoreBackup', { name: backups[0].name })
    const restored = await again(engine, data)
    expect(engine.lastWord).toMatchObject({ job: 'restore', state: 'done' })
    expect(frames(restored)).toBe(3)
    const kept = (await restored.ask('backups', {})).backups.filter(({ aside }) => aside)
    expect(kept).toHaveLength(1)

    await restored.ask('restoreBackup', { name: kept[0].name })
    await using back = disposable(await again(restored, data))
    expect(frames(back.engine)).toBe(later)
    expect(readdirSync(data).filter((name) => name.includes('restor'))).toEqual([])
  })

  test('a copy that is damaged, foreign, newer or gone is refused in a sentence, and nothing changes', async () => {
    const { engine, data } = await withFrames(2)
    const { path } = await engine.ask('backUp', {})
    const whole = readFileSync(path)
    const put = (name: string, bytes: Buffer | string) => writeFileSync(join(data, 'backups', name), bytes)
    put('nightshelf-20261101T000000Z.db', whole.subarray(0, whole.length - 4096))
    put('nightshelf-20261102T000000Z.db', 'no database at all')
    put('nightshelf-20261103T000000Z.db', '')
    put('nightshelf-20261104T000000Z.db', whole)
    const newer = openDatabase(join(data, 'backups', 'nightshelf-20261104T000000Z.db'))
    newer.pragma('user_version = 9999')
    newer.close()
    for (const [name, why] of [
      ['nightshelf-20261101T000000Z.db', /is damaged, or no copy/],
      ['nightshelf-20261102T000000Z.db', /is damaged, or no copy/],
      ['nightshelf-20261103T000000Z.db', /is damaged, or no copy/],
      ['nightshelf-20261104T000000Z.db', /newer version/],
      ['nightshelf-20261105T000000Z.db', /no copy/],
      ['../nightshelf.db', /no copy/],
    ] as const)
      await expect(engine.ask('restoreBackup', { name }), name).rejects.toThrow(why)
    expect(frames(engine)).toBe(2)
    expect(readdirSync(data).filter((name) => name.includes('restor'))).toEqual([])
  })

  test('waits for nobody: where another program has the log open, it stays as it is and that is said', async () => {
    const { engine, data } = await withFrames(2)
    const { path } = await engine.ask('backUp', {})
    const other = openDatabase(join(data, 'nightshelf.db'))
    await engine.ask('restoreBackup', { name: path.slice(path.lastIndexOf('/') + 1) })
    await engine.leaving
    await engine.close()
    expect(engine.lastWord).toMatchObject({
      state: 'failed',
      text: expect.stringContaining('Another Nightshelf program'),
    })
    expect(countFrames(other)).toBe(2)
    other.close()
    expect(readdirSync(data).filter((name) => name.includes('restor'))).toEqual([])
  })
})

describe('moving the data folder', () => {
  test('takes log, masters and copies along, and whoever starts with the old folder finds them', async () => {
    const { engine, data } = await withFrames(3)
    await addMaster(engine, 'Dark')
    const copied = await engine.ask('addMasters', {
      paths: (await engine.ask('library', {})).masters.map(({ path }) => path),
      copy: true,
    })
    expect(copied.refused).toEqual([])
    await engine.ask('backUp', {})
    const to = join(freshFolder(), 'not', 'there', 'yet')
    await engine.ask('moveDataFolder', { path: to })
    await expect(engine.ask('moveDataFolder', { path: to })).rejects.toThrow(/being moved/)
    const moved = await again(engine, data)
    expect(engine.lastWord).toEqual({ job: 'move', title: expect.any(String), state: 'done', text: null })
    await using here = disposable(moved)
    expect(moved.dataDir).toBe(to)
    expect(frames(moved)).toBe(3)
    expect(await moved.ask('verifyLibrary', {})).toMatchObject({ damaged: [] })
    expect((await moved.ask('backups', {})).backups).toHaveLength(1)
    expect(readdirSync(to).filter((name) => /arriving|unfinished/.test(name))).toEqual([])

    const told = await moved.ask('dataFolder', {})
    expect(told.path).toBe(to)
    expect(told.bytes.log).toBeGreaterThan(0)
    expect(told.clearable).toMatchObject([{ what: 'leftBehind', path: data }])
    expect(await moved.ask('clear', { what: 'leftBehind' })).toEqual({ bytes: told.clearable[0].bytes })
    expect(readdirSync(data)).toEqual(['moved.json'])
    await expect(moved.ask('clear', { what: 'leftBehind' })).rejects.toThrow(/nothing of that/)
    void here
  })

  test('and back again: each start finds the log where it is', async () => {
    const { engine, data } = await withFrames(2)
    const to = join(freshFolder(), 'b')
    await engine.ask('moveDataFolder', { path: to })
    const there = await again(engine, data)
    await there.ask('clear', { what: 'leftBehind' })
    await there.ask('moveDataFolder', { path: data })
    await using back = disposable(await again(there, data))
    expect(back.engine.dataDir).toBe(data)
    expect(frames(back.engine)).toBe(2)
    expect(followMoves(to)).toBe(data)
    expect(followMoves(data)).toBe(data)
  })

  test('is refused where it would not be safe, in a sentence that says where to instead', async () => {
    const { engine, folder, data } = await withFrames(1)
    await engine.ask('watchFolder', { path: folder })
    const full = freshFolder()
    writeFileSync(join(full, 'letter.txt'), '')
    for (const [path, why] of [
      [data, /there already/],
      [join(data, 'inside'), /neither inside/],
      [join(data, '..'), /neither inside/],
      [folder, /watched folder/],
      [join(folder, 'below'), /watched folder/],
      [full, /not empty/],
      [join(full, 'letter.txt'), /is a file/],
      ['relative', /whole path/],
    ] as const)
      await expect(engine.ask('moveDataFolder', { path }), path).rejects.toThrow(why)
    expect(existsSync(join(folder, 'below'))).toBe(false)
  })

  test('can be stopped, and leaves nothing in the new folder', async () => {
    const { engine, data } = await withFrames(1)
    mkdirSync(join(data, 'masters'))
    for (let n = 0; n < 40; n++) writeFileSync(join(data, 'masters', `${n}.fits`), Buffer.alloc(200_000, n))
    const to = join(freshFolder(), 'b')
    const told = listenTo(engine)
    await engine.ask('moveDataFolder', { path: to })
    await told.until(() => told.of('progress').some(({ done }) => done > 0))
    expect(await engine.ask('stopMove', {})).toEqual({ stopped: true })
    expect(told.of('progress').at(-1)).toMatchObject({ job: 'move', state: 'stopped' })
    expect(readdirSync(to)).toEqual([])
    expect((await engine.ask('dataFolder', {})).moving).toBe(false)
    expect(frames(engine)).toBe(1)
  })
})

describe('following moves', () => {
  test('a folder that was moved to a disk that is away is never taken for an empty one', async () => {
    const folder = freshFolder()
    leaveSign(folder, join(folder, 'away'), new Date())
    await expect(openEngine({ dataDir: folder })).rejects.toThrow(/is not there: connect its disk/)
    expect(readdirSync(folder)).toEqual(['moved.json'])
  })

  test('a sign that cannot be read is said, not ignored; two that point at each other follow the newer', () => {
    const [a, b] = [freshFolder(), freshFolder()]
    writeFileSync(join(a, 'moved.json'), '{"to":')
    expect(() => followMoves(a)).toThrow(/cannot be read/)
    leaveSign(a, b, new Date('2026-11-01T00:00:00Z'))
    leaveSign(b, a, new Date('2026-11-02T00:00:00Z'))
    expect([followMoves(a), followMoves(b)]).toEqual([a, a])
    rmSync(join(b, 'moved.json'))
    expect(followMoves(a)).toBe(b)
  })
})

const disposable = (engine: Engine) => ({ engine, [Symbol.asyncDispose]: () => engine.close() })
