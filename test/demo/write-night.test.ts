import { createHash } from 'node:crypto'
import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join, relative } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { Refusal } from '../../main/contract/index.ts'
import type { Truth } from '../../main/demo/truth-file.ts'
import { writeNight, type FrameWritten, type NightOptions } from '../../main/demo/write-night.ts'
import { readFitsInfo } from '../../main/fits/file.ts'

const options: NightOptions = { night: '2026-11-20', seed: 1, width: 96, height: 66, speed: null }
const base = mkdtempSync(join(tmpdir(), 'nightshelf-demo-'))
afterAll(() => rmSync(base, { recursive: true }))

let folder = 0
const fresh = () => join(base, `n${folder++}`)

/** Every file below a folder with its hash. */
function contents(dir: string): Record<string, string> {
  const files = readdirSync(dir, { recursive: true, withFileTypes: true }).filter((entry) => !entry.isDirectory())
  return Object.fromEntries(
    files
      .map((entry) => join(entry.parentPath, entry.name))
      .sort()
      .map((path) => [relative(dir, path), createHash('sha256').update(readFileSync(path)).digest('hex')]),
  )
}

describe('writing a demo night', () => {
  const dir = join(base, 'whole')
  const seen: FrameWritten[] = []
  beforeAll(async () => {
    await writeNight(dir, options, undefined, (written) => seen.push(written))
  }, 60_000)

  it('fills a capture folder by kind, with a library and the truth beside it, and nothing outside', () => {
    expect(readdirSync(base)).toEqual(['whole'])
    expect(readdirSync(dir).sort()).toEqual(['capture', 'library', 'truth.json'])
    expect(readdirSync(join(dir, 'capture')).sort()).toEqual(
      ['darks', 'dark-flats', 'flats', 'focus', 'lights', 'pointing', 'trial'].sort(),
    )
    expect(readdirSync(join(dir, 'library')).length).toBe(9)
    const frames = Object.keys(contents(join(dir, 'capture')))
    expect(frames.length).toBe(seen.length)
    expect(frames.every((path) => path.endsWith('.fits'))).toBe(true)
  })

  it('writes whole files, but for the one that the story cuts off', () => {
    for (const { path, frame } of seen) {
      const { expectedLength, fileSize } = readFitsInfo(path)
      if (frame.writtenFraction === null) expect(fileSize, path).toBe(expectedLength)
      else expect(fileSize).toBe(Math.floor(expectedLength * 0.6))
    }
    expect(seen.filter(({ frame }) => frame.writtenFraction !== null).length).toBe(1)
  })

  it('dates each file by the end of its exposure', () => {
    const { frame, path } = seen[100]
    expect(Math.abs(statSync(path).mtimeMs - frame.savedAtMs)).toBeLessThan(2)
  })

  it('writes the mistakes with the rules for them, and the frames that they are in', () => {
    const truth = JSON.parse(readFileSync(join(dir, 'truth.json'), 'utf8')) as Truth
    const byName = Object.fromEntries(truth.mistakes.map((m) => [m.name, m]))
    expect(byName['offset-slip']).toMatchObject({ rule: 'settings-changed' })
    expect(byName['offset-slip'].frames.length).toBe(14)
    expect(byName['cut-short'].frames.length).toBe(1)
    for (const { frames } of truth.mistakes)
      for (const path of frames) expect(statSync(join(dir, 'capture', path)).isFile()).toBe(true)
  })

  it('is the same byte for byte for the same seed, and another for another', async () => {
    const again = fresh()
    const other = fresh()
    await writeNight(again, options)
    await stopAfter(other, 40, { ...options, seed: 2 })
    expect(contents(again)).toEqual(contents(dir))
    const capture = (d: string) => Object.values(contents(join(d, 'capture')))
    expect(capture(other).length).toBe(40)
    expect(capture(other).filter((hash) => capture(dir).includes(hash))).toEqual([])
  }, 60_000)

  it('called again writes only what is missing or half there', async () => {
    const before = contents(dir)
    const [lost, cut] = [seen[40].path, seen[50].path]
    rmSync(lost)
    truncateSync(cut, 5000)
    const written: string[] = []
    await writeNight(dir, options, undefined, ({ path, already }) => already || written.push(path))
    expect(written.sort()).toEqual([lost, cut].sort())
    expect(contents(dir)).toEqual(before)
  })

  it('refuses a folder that holds anything else, in one sentence, and touches nothing in it', async () => {
    const foreign = fresh()
    mkdirSync(foreign)
    writeFileSync(join(foreign, 'photo.fits'), 'mine')
    await expect(writeNight(foreign, options)).rejects.toThrow(/holds other files: name a new or empty folder/)
    expect(readdirSync(foreign)).toEqual(['photo.fits'])
    await expect(writeNight(dir, { ...options, seed: 9 })).rejects.toThrow(/already holds the demo night of 2026-11-20/)
    await expect(writeNight(join(foreign, 'photo.fits'), options)).rejects.toThrow(Refusal)
    expect(readFileSync(join(foreign, 'photo.fits'), 'utf8')).toBe('mine')
  })

  it('never follows a link out of its folder', async () => {
    const linked = fresh()
    const elsewhere = fresh()
    mkdirSync(elsewhere)
    await stopAfter(linked, 1)
    rmSync(join(linked, 'capture'), { recursive: true })
    symlinkSync(elsewhere, join(linked, 'capture'))
    await expect(writeNight(linked, options)).rejects.toThrow(/leads out of/)
    expect(readdirSync(elsewhere)).toEqual([])
  })

  it('stopped by signal leaves whole files only, and goes on from there', async () => {
    const stopped = fresh()
    await stopAfter(stopped, 25)
    const files = Object.keys(contents(join(stopped, 'capture')))
    expect(files.length).toBe(25)
    expect(files.every((path) => path.endsWith('.fits'))).toBe(true)
    await writeNight(stopped, options)
    expect(contents(stopped)).toEqual(contents(dir))
  })

  it('live, lets frames land one by one at the pace asked for: growing in place, or under another name', async () => {
    const live = fresh()
    const stop = new AbortController()
    const arrivals: { at: number; savedAtMs: number; path: string }[] = []
    const names = new Set<string>()
    const look = setInterval(() => {
      try {
        for (const path of Object.keys(contents(join(live, 'capture')))) names.add(path)
      } catch {
        // Between looking and reading, a file was renamed.
      }
    }, 3)
    // From 18:33 to 19:17, 44 minutes, at 1200 × in 2.2 s: trial, pointing, focus and the first lights.
    const night = writeNight(live, { ...options, speed: 1200 }, stop.signal, ({ frame, path }) => {
      arrivals.push({ at: performance.now(), savedAtMs: frame.savedAtMs, path })
      if (arrivals.length === 15) stop.abort()
    })
    await expect(night).rejects.toThrow()
    clearInterval(look)
    const played = (arrivals[14].at - arrivals[0].at) * 1200
    const lasted = arrivals[14].savedAtMs - arrivals[0].savedAtMs
    // The machine may be late, never early (but for the lateness of the first).
    expect(played / lasted).toBeGreaterThan(0.9)
    expect(Object.keys(contents(join(live, 'capture'))).filter((p) => !p.endsWith('.fits'))).toEqual([])
    expect([...names].some((path) => /^lights\/.*\.part$/.test(path))).toBe(true)
    expect([...names].some((path) => /^focus\/.*\.part$/.test(path))).toBe(false)
  })

  async function stopAfter(dir: string, count: number, what = options): Promise<void> {
    const stop = new AbortController()
    let frames = 0
    const night = writeNight(dir, what, stop.signal, () => ++frames === count && stop.abort())
    await expect(night).rejects.toThrow()
  }
})
