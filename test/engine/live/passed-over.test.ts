import { execFileSync } from 'node:child_process'
import { rmSync, utimesSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { countFrames } from '../../../db/tables/frames.ts'
import { freshEngine, listenTo } from '../engines.ts'
import { frameBytes, freshFolder, writeRun } from '../night-files.ts'

const inTheNight = new Date('2026-11-20T22:00:00Z')

/** A file as it was written in the night of the engine's clock. */
function put(path: string, bytes: string | Buffer): string {
  writeFileSync(path, bytes)
  utimesSync(path, inTheNight, inTheNight)
  return path
}

test('while watching, files that cannot be parsed are one notice a cause, which closes itself when they are whole or gone', async () => {
  const folder = freshFolder()
  writeRun(folder, 2)
  const text = put(join(folder, 'note.fits'), 'no frame at all, but a text that somebody gave this name')
  const other = put(join(folder, 'other.fits'), 'a second text under a name of a frame, longer than the first one was')
  execFileSync('mkfifo', [join(folder, 'pipe.fits')])
  const engine = await freshEngine({ live: true })
  const told = listenTo(engine)
  await engine.ask('watchFolder', { path: folder })
  const notices = async () => {
    const { notices } = await engine.ask('tonight', {})
    return notices.filter((notice) => notice.rule === 'frame-broken').map(({ text, frames }) => [text, frames])
  }
  await told.until(() => countFrames(engine.db) === 2)
  await expect.poll(notices, { timeout: 8_000 }).toEqual(
    expect.arrayContaining([
      ['Not logged: note.fits and 1 more', 2],
      ['Not logged: pipe.fits', 1],
    ]),
  )
  put(text, frameBytes({ startedAt: '2026-11-20T22:00:00', seed: 44 }))
  await told.until(() => countFrames(engine.db) === 3)
  expect(await notices()).toEqual(
    expect.arrayContaining([
      ['Not logged: other.fits', 1],
      ['Not logged: pipe.fits', 1],
    ]),
  )
  rmSync(other)
  rmSync(join(folder, 'pipe.fits'))
  await engine.settled()
  await expect.poll(notices, { timeout: 8_000 }).toEqual([])
}, 30_000)

test('a file of an earlier night that cannot be parsed is told of in that night', async () => {
  const folder = freshFolder()
  writeRun(folder, 2)
  const path = put(join(folder, 'old.fits'), 'no frame')
  utimesSync(path, new Date('2026-10-02T22:00:00Z'), new Date('2026-10-02T22:00:00Z'))
  const engine = await freshEngine({ live: true })
  await engine.ask('watchFolder', { path: folder })
  const rules = async (night: string) => (await engine.ask('tonight', { night })).notices.map((notice) => notice.rule)
  await expect.poll(() => rules('2026-10-02'), { timeout: 8_000 }).toEqual(['frame-broken'])
  expect(await rules('2026-11-20')).not.toContain('frame-broken')
})
