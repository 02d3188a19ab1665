import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { onTestFinished } from 'vitest'
import { encodeFits } from '../../main/fits/write.ts'

/** A folder of its own for one test, gone afterwards. */
export function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'nightshelf-'))
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}

export interface FrameSpec {
  kind?: string
  exposureS?: number
  filter?: string | null
  gain?: number | null
  offset?: number | null
  tempC?: number | null
  target?: string | null
  startedAt?: string
  camera?: string | null
  /** Another seed, other noise. */
  seed?: number
  more?: { keyword: string; value: string | number }[]
}

const width = 32
const height = 24

/** A frame as a camera program writes it: 32 × 24 pixels of noise (16 bit unsigned), seeded. */
export function frameBytes(spec: FrameSpec = {}): Buffer {
  const {
    kind = 'Light Frame',
    exposureS = 300,
    filter = 'Ha',
    gain = 100,
    offset = 30,
    tempC = -10,
    target = 'Field 7',
    startedAt = '2026-11-20T21:00:00',
    camera = 'Testcam 26',
    seed = 1,
    more = [],
  } = spec
  let state = seed * 2654435761
  const image = Uint16Array.from({ length: width * height }, () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return 1000 + (state >>> 20)
  })
  const cards = [
    { keyword: 'IMAGETYP', value: kind },
    { keyword: 'INSTRUME', value: camera },
    { keyword: 'GAIN', value: gain },
    { keyword: 'OFFSET', value: offset },
    { keyword: 'CCD-TEMP', value: tempC },
    { keyword: 'SET-TEMP', value: tempC },
    { keyword: 'EXPTIME', value: exposureS },
    { keyword: 'FILTER', value: filter },
    { keyword: 'OBJECT', value: target },
    { keyword: 'XBINNING', value: 1 },
    { keyword: 'YBINNING', value: 1 },
    { keyword: 'DATE-OBS', value: startedAt },
    ...more,
  ].filter((card) => card.value !== null)
  return encodeFits({ width, height, bitpix: 16, unsigned: true, cards, image, checksum: false })
}

/** Writes one frame below a folder; its folders are made. @returns its path */
export function writeFrame(folder: string, name: string, spec: FrameSpec = {}): string {
  const path = join(folder, name)
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(path, frameBytes(spec))
  return path
}

/** `n` lights of one run, five minutes apart. @returns their paths */
export const writeRun = (folder: string, n: number, spec: FrameSpec = {}): string[] =>
  Array.from({ length: n }, (_, i) =>
    writeFrame(folder, `light_${String(i).padStart(4, '0')}.fits`, {
      startedAt: new Date(Date.parse('2026-11-20T21:00:00Z') + i * 305_000).toISOString().slice(0, 19),
      seed: i + 1,
      ...spec,
    }),
  )
