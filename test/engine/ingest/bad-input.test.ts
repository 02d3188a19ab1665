import { execFileSync } from 'node:child_process'
import { chmodSync, mkdirSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test, vi } from 'vitest'
import { countFrames } from '../../../db/tables/frames.ts'
import * as read from '../../../main/engine/ingest/read.ts'
import { freshEngine } from '../engines.ts'
import { frameBytes, freshFolder, writeRun } from '../night-files.ts'

const block = (...cards: string[]) =>
  Buffer.from(
    cards
      .map((card) => card.padEnd(80))
      .join('')
      .padEnd(2880),
  )
const header = (...more: string[]) =>
  block('SIMPLE  =                    T', 'BITPIX  =                   16', 'NAXIS   =                    2', ...more)

/** Each kind of bad input: makes it in the folder, and the sentence that it gets. */
const cases: { what: string; make(folder: string): string; says: RegExp; unreadable: number; broken?: number }[] = [
  {
    what: 'text renamed to .fits',
    make: (folder) => put(folder, 'text.fits', Buffer.from('Dear diary,\n'.repeat(500))),
    says: /no FITS file/,
    unreadable: 1,
  },
  {
    what: 'a header without END',
    make: (folder) =>
      put(folder, 'endless.fits', header('NAXIS1  =                    8', 'NAXIS2  =                    8')),
    says: /ends before its header/,
    unreadable: 1,
  },
  {
    what: 'NAXIS1 = 1e9',
    make: (folder) =>
      put(folder, 'huge.fits', header('NAXIS1  =           1000000000', 'NAXIS2  =           1000000000', 'END')),
    says: /./,
    unreadable: 1,
  },
  {
    what: 'a zero-byte file',
    make: (folder) => put(folder, 'empty.fits', Buffer.alloc(0)),
    says: /empty/,
    unreadable: 1,
  },
  {
    what: 'truncated data',
    make: (folder) => put(folder, 'cut.fits', frameBytes({ seed: 99 }).subarray(0, 2880 + 1000)),
    says: /cut off/,
    unreadable: 0,
    broken: 1,
  },
  {
    what: 'a directory named x.fits',
    make: (folder) => {
      mkdirSync(join(folder, 'x.fits'))
      return join(folder, 'x.fits')
    },
    says: /folder with the name/,
    unreadable: 1,
  },
  {
    what: 'a pipe',
    make: (folder) => {
      execFileSync('mkfifo', [join(folder, 'pipe.fits')])
      return join(folder, 'pipe.fits')
    },
    says: /pipe/,
    unreadable: 1,
  },
  {
    what: 'a link to itself',
    make: (folder) => {
      symlinkSync('loop.fits', join(folder, 'loop.fits'))
      return join(folder, 'loop.fits')
    },
    says: /link leads back/,
    unreadable: 1,
  },
  {
    what: 'a link to a folder above it',
    make: (folder) => {
      symlinkSync('..', join(folder, 'up'))
      return join(folder, 'up')
    },
    says: /link leads back/,
    unreadable: 0,
  },
  {
    what: 'a link to nowhere',
    make: (folder) => {
      symlinkSync('/nowhere/at/all.fits', join(folder, 'dangling.fits'))
      return join(folder, 'dangling.fits')
    },
    says: /not there any more/,
    unreadable: 1,
  },
]

function put(folder: string, name: string, bytes: Buffer): string {
  writeFileSync(join(folder, name), bytes)
  return join(folder, name)
}

test.skipIf(process.platform === 'win32').each(cases)(
  '$what gets one sentence, and everything else is logged',
  async ({ make, says, unreadable, broken = 0 }) => {
    const folder = freshFolder()
    const below = join(folder, 'lights')
    writeRun(below, 3)
    const path = make(below)
    const engine = await freshEngine()
    const report = await engine.log([folder])
    expect(report.problems).toEqual([{ path, reason: expect.stringMatching(says) as string }])
    expect(report.problems[0].reason).toMatch(/^[A-Z][^\n]*\.$/)
    expect(report.summary).toEqual({
      seen: 3 + unreadable + broken,
      logged: 3 + broken,
      amended: 0,
      already: 0,
      unreadable,
    })
    const again = await engine.log([folder])
    expect(again.problems).toEqual(report.problems)
    expect(again.summary.logged).toBe(0)
  },
)

test('a missing folder gets one sentence, and the others are logged', async () => {
  const folder = freshFolder()
  writeRun(folder, 2)
  const report = await (await freshEngine()).log([join(folder, 'nowhere'), folder])
  expect(report.problems).toEqual([
    { path: join(folder, 'nowhere'), reason: expect.stringMatching(/does not exist/) as string },
  ])
  expect(report.summary.logged).toBe(2)
})

test('two links that lead to each other end, and what they lead to is logged once', async () => {
  const folder = freshFolder()
  for (const [from, to] of [
    ['a', 'b'],
    ['b', 'a'],
  ]) {
    writeRun(join(folder, from), 1, { seed: from.charCodeAt(0) })
    symlinkSync(join(folder, to), join(folder, from, 'other'))
  }
  const report = await (await freshEngine()).log([folder])
  expect(report.summary).toMatchObject({ seen: 2, logged: 2 })
})

test('a link to a folder outside is followed, once', async () => {
  const outside = freshFolder()
  writeRun(outside, 2)
  const folder = freshFolder()
  symlinkSync(outside, join(folder, 'one'))
  symlinkSync(outside, join(folder, 'two'))
  expect((await (await freshEngine()).log([folder])).summary).toMatchObject({ seen: 2, logged: 2 })
})

test('a file deleted while it is being read gets one sentence', async () => {
  const folder = freshFolder()
  const paths = writeRun(folder, 3)
  const engine = await freshEngine()
  const original = read.readFrameFile
  const spy = vi.spyOn(read, 'readFrameFile').mockImplementation((path, seen) => {
    if (path === paths[1]) rmSync(path)
    return original(path, seen)
  })
  const report = await engine.log([folder]).finally(() => spy.mockRestore())
  expect(report.problems).toEqual([{ path: paths[1], reason: expect.stringMatching(/not there any more/) as string }])
  expect(report.summary).toMatchObject({ seen: 3, logged: 2, unreadable: 1 })
})

test.skipIf(process.platform === 'win32')('a file and a folder without permission get one sentence each', async () => {
  const folder = freshFolder()
  const paths = writeRun(folder, 3)
  writeRun(join(folder, 'locked'), 1, { seed: 40 })
  chmodSync(paths[0], 0o000)
  chmodSync(join(folder, 'locked'), 0o000)
  chmodSync(folder, 0o755)
  const engine = await freshEngine()
  // Root may read everything: then the check runs as nobody.
  const asNobody = process.getuid?.() === 0
  if (asNobody) process.seteuid!(65534)
  const report = await engine.log([folder]).finally(() => {
    if (asNobody) process.seteuid!(0)
    chmodSync(join(folder, 'locked'), 0o755)
  })
  expect(report.problems.map((problem) => problem.path)).toEqual([paths[0], join(folder, 'locked')])
  for (const { reason } of report.problems) expect(reason).toMatch(/may not be read: give your account the right/)
  expect(report.summary).toMatchObject({ seen: 3, logged: 2, unreadable: 1 })
  expect(countFrames(engine.db)).toBe(2)
})
