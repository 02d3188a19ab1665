import { createHash } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, describe, expect, test, vi } from 'vitest'
import { backUp, listBackups } from '../../db/backup.ts'
import { countFrames } from '../../db/tables/frames.ts'
import type { Engine } from '../../main/engine/open.ts'
import { freshEngine } from './engines.ts'
import { freshFolder, writeFrame, writeRun } from './night-files.ts'

/**
 * Fails call n of the disk for every n, once and from then on (the method that SQLite's own tests use: "How SQLite Is
 * Tested", section 3.2, I/O error tests). `count` is how many calls a run without faults makes.
 */
const disk = vi.hoisted(() => ({ calls: 0, failAt: Infinity, forever: false, watching: false }))

const faulty = vi.hoisted(() => (real: Record<string, unknown>, names: string[], isAsync: boolean) => {
  const wrapped: Record<string, unknown> = { ...real }
  for (const name of names) {
    const call = real[name] as (...args: unknown[]) => unknown
    wrapped[name] = (...args: unknown[]) => {
      if (disk.watching) {
        disk.calls++
        if (disk.calls === disk.failAt || (disk.forever && disk.calls > disk.failAt)) {
          const error = Object.assign(new Error(`EIO: i/o error, ${name}`), { code: 'EIO', syscall: name })
          if (isAsync) return Promise.reject(error)
          throw error
        }
      }
      return call(...args)
    }
  }
  return wrapped
})

vi.mock('node:fs', async (original) =>
  faulty(
    await original(),
    [
      'openSync',
      'readSync',
      'fstatSync',
      'statSync',
      'lstatSync',
      'readdirSync',
      'realpathSync',
      'fsyncSync',
      'mkdirSync',
      'renameSync',
    ],
    false,
  ),
)
vi.mock('node:fs/promises', async (original) => faulty(await original(), ['open', 'copyFile', 'link', 'rename'], true))

afterEach(() => Object.assign(disk, { calls: 0, failAt: Infinity, forever: false, watching: false }))

/** Runs `work` with call `n` failing; what it throws is the answer, not a failure of the test. */
async function withFault(
  n: number,
  forever: boolean,
  work: () => Promise<unknown>,
): Promise<{ calls: number; error: unknown }> {
  Object.assign(disk, { calls: 0, failAt: n, forever, watching: true })
  try {
    await work()
    return { calls: disk.calls, error: null }
  } catch (error) {
    return { calls: disk.calls, error }
  } finally {
    disk.watching = false
  }
}

/** Fails each call in turn until one run makes fewer calls than that. @returns how many were failed */
async function failEach(
  forever: boolean,
  trial: (fault: (work: () => Promise<unknown>) => Promise<unknown>) => Promise<void>,
) {
  let failed = 0
  for (let n = 1; n < 2_000; n++) {
    let calls = 0
    await trial(async (work) => {
      const outcome = await withFault(n, forever, work)
      calls = outcome.calls
      return outcome.error
    })
    if (calls < n) return failed
    failed++
  }
  throw new Error('there is no end of calls')
}

const isSound = (engine: Engine) => {
  expect(engine.db.pragma('integrity_check', { simple: true })).toBe('ok')
  expect(engine.db.pragma('foreign_key_check')).toEqual([])
}

describe.each([
  ['once', false],
  ['from then on', true],
])('a disk that fails %s', (_how, forever) => {
  test(
    'at any call while frames are logged: none is lost, none is twice, and the next run has them all',
    { timeout: 120_000 },
    async () => {
      const folder = freshFolder()
      writeRun(folder, 2)
      writeFrame(folder, 'deeper/a.fits', { seed: 70 })
      const failed = await failEach(forever, async (fault) => {
        const engine = await freshEngine()
        await fault(() => engine.log([folder]))
        isSound(engine)
        expect(countFrames(engine.db)).toBeLessThanOrEqual(3)
        const { summary, problems } = await engine.log([folder])
        expect(problems).toEqual([])
        expect(summary.logged + summary.already).toBe(3)
        expect(countFrames(engine.db)).toBe(3)
        expect(engine.db.prepare("SELECT count(*) FROM frames WHERE state != 'ok'").pluck().get()).toBe(0)
        await engine.close()
      })
      expect(failed).toBeGreaterThan(15)
    },
  )

  test(
    'at any call while a logged folder is logged again: nothing is taken for gone',
    { timeout: 120_000 },
    async () => {
      const folder = freshFolder()
      writeRun(folder, 2)
      writeFrame(folder, 'deeper/a.fits', { seed: 70 })
      const engine = await freshEngine()
      await engine.log([folder])
      const failed = await failEach(forever, async (fault) => {
        await fault(() => engine.log([folder]))
        expect(engine.db.prepare("SELECT count(*) FROM frames WHERE state = 'ok'").pluck().get()).toBe(3)
      })
      expect(failed).toBeGreaterThan(3)
    },
  )

  test(
    'at any call while a master is copied in: no half file under its name, and it can be added again',
    { timeout: 120_000 },
    async () => {
      const folder = freshFolder()
      const path = writeFrame(folder, 'dark.fits', {
        kind: 'Dark',
        filter: null,
        more: [{ keyword: 'NCOMBINE', value: 20 }],
      })
      const whole = createHash('sha256').update(readFileSync(path)).digest('hex')
      const failed = await failEach(forever, async (fault) => {
        const engine = await freshEngine()
        await fault(() => engine.ask('addMasters', { paths: [path], copy: true }))
        const masters = join(engine.dataDir, 'masters')
        const named = existsSync(masters) ? readdirSync(masters).filter((name) => !name.endsWith('.unfinished')) : []
        for (const name of named)
          expect(
            createHash('sha256')
              .update(readFileSync(join(masters, name)))
              .digest('hex'),
          ).toBe(whole)
        const { refused } = await engine.ask('addMasters', { paths: [path], copy: true })
        expect(refused).toEqual([])
        const library = await engine.ask('library', {})
        expect(library.masters).toHaveLength(1)
        expect(existsSync(library.masters[0].path)).toBe(true)
        expect(readdirSync(masters)).toHaveLength(1)
        isSound(engine)
        await engine.close()
      })
      expect(failed).toBeGreaterThan(10)
    },
  )

  test(
    'at any call while a copy of the log is made: the earlier copy stays, and the next one works',
    { timeout: 120_000 },
    async () => {
      const capture = freshFolder()
      writeRun(capture, 3)
      const engine = await freshEngine()
      await engine.log([capture])
      const failed = await failEach(forever, async (fault) => {
        const folder = freshFolder()
        const first = await backUp(engine.db, folder, new Date('2026-11-20T06:00:00Z'))
        await fault(() => backUp(engine.db, folder, new Date('2026-11-21T06:00:00Z')))
        expect(existsSync(first)).toBe(true)
        const next = await backUp(engine.db, folder, new Date('2026-11-22T06:00:00Z'))
        expect(listBackups(folder)).toContain(next)
      })
      expect(failed).toBeGreaterThan(3)
    },
  )
})

test(
  'a database that cannot be written at any statement loses nothing that was committed, and the next run has it all',
  { timeout: 120_000 },
  async () => {
    const folder = freshFolder()
    writeRun(folder, 3)
    const probe = await freshEngine()
    const statement = Object.getPrototypeOf(probe.db.prepare('SELECT 1')) as { run(...args: unknown[]): unknown }
    const run = statement.run
    let failed = 0
    for (let n = 1; n < 200; n++) {
      const engine = await freshEngine()
      let calls = 0
      statement.run = function (this: unknown, ...args: unknown[]) {
        if (++calls === n) throw Object.assign(new Error('disk I/O error'), { code: 'SQLITE_IOERR_WRITE' })
        return run.apply(this, args)
      }
      await engine.log([folder]).catch(() => {})
      statement.run = run
      isSound(engine)
      await engine.log([folder])
      expect(countFrames(engine.db)).toBe(3)
      await engine.close()
      if (calls < n) break
      failed++
    }
    expect(failed).toBeGreaterThan(10)
  },
)
