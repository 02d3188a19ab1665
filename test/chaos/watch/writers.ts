import { closeSync, ftruncateSync, openSync, renameSync, rmSync, truncateSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { fitsBytes } from '../../watch/files.ts'

/** A seeded source of chance (mulberry32). */
export function dice(seed: number) {
  let state = seed >>> 0
  const next = () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = Math.imul(state ^ (state >>> 15), 1 | state)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
  return { next, below: (n: number) => Math.floor(next() * n), chance: (p: number) => next() < p }
}
type Dice = ReturnType<typeof dice>

/** One thing that a writer does, and the paths at which a notification would come. */
interface Step {
  afterMs: number
  run: () => void
  touches: string[]
}

export interface Writer {
  manner: string
  /** The name under which the whole frame stands in the end. */
  path: string
  /** What it holds then; null where the writer gives up half way. */
  bytes: Buffer | null
  /** How many of them are header and data; the rest is padding, without which a frame is whole all the same. */
  least: number
  steps: Step[]
}

const at = (path: string, flags: string, use: (fd: number) => void) => {
  const fd = openSync(path, flags)
  try {
    use(fd)
  } finally {
    closeSync(fd)
  }
}
const put = (path: string, bytes: Buffer, from: number, to: number) => () =>
  at(path, from === 0 ? 'a' : 'r+', (fd) => writeSync(fd, bytes, from, to - from, from))
const overwrite = (path: string, bytes: Buffer, from: number, to: number) => () =>
  at(path, 'r+', (fd) => writeSync(fd, bytes, from, to - from, from))

/** Mostly the next moment, sometimes a stall of up to 20 s. */
const pause = (d: Dice) => (d.chance(0.15) ? d.below(20_000) : d.below(80))

/** Cuts at random places, always at least one, between samples: nobody writes half ones. */
function cuts(d: Dice, length: number): number[] {
  const places = Array.from({ length: 1 + d.below(10) }, () => 2 * d.below(length / 2))
  return [...new Set([0, ...places, length])].sort((a, b) => a - b)
}

function pieces(d: Dice, path: string, bytes: Buffer, write = put): Step[] {
  const places = cuts(d, bytes.length)
  return places.slice(1).map((to, i) => ({
    afterMs: pause(d),
    run: write(path, bytes, places[i], to),
    touches: [path],
  }))
}

type Manner = (d: Dice, path: string, bytes: Buffer) => Pick<Writer, 'bytes' | 'steps'>
const step = (d: Dice, touches: string[], run: () => void): Step => ({ afterMs: pause(d), run, touches })
const layOut = (d: Dice, path: string, length: number) =>
  step(d, [path], () => at(path, 'w', (fd) => ftruncateSync(fd, length)))

/** What capture software, copy programs and accidents do. */
export const manners: Record<string, Manner> = {
  'in place, piece by piece': (d, path, bytes) => ({ bytes, steps: pieces(d, path, bytes) }),
  'under a temporary name, then renamed': (d, path, bytes) => {
    const part = path + '.part'
    return { bytes, steps: [...pieces(d, part, bytes), step(d, [part, path], () => renameSync(part, path))] }
  },
  'under a temporary FITS name, then renamed': (d, path, bytes) => {
    const part = join(path, '..', `tmp_${path.split('/').at(-1)}`)
    return { bytes, steps: [...pieces(d, part, bytes), step(d, [part, path], () => renameSync(part, path))] }
  },
  'laid out in advance': (d, path, bytes) => ({
    bytes,
    steps: [layOut(d, path, bytes.length), ...pieces(d, path, bytes, overwrite)],
  }),
  'laid out too long, cut to length at the end': (d, path, bytes) => ({
    bytes,
    steps: [
      layOut(d, path, bytes.length + 2880 * (1 + d.below(3))),
      ...pieces(d, path, bytes, overwrite),
      step(d, [path], () => truncateSync(path, bytes.length)),
    ],
  }),
  'header last': (d, path, bytes) => ({
    bytes,
    steps: [
      layOut(d, path, 2880),
      ...pieces(
        d,
        path,
        bytes.subarray(2880),
        (p, b, from, to) => () => at(p, 'r+', (fd) => writeSync(fd, b, from, to - from, 2880 + from)),
      ),
      step(d, [path], overwrite(path, bytes, 0, 2880)),
    ],
  }),
  'begun, cut to nothing, begun again': (d, path, bytes) => ({
    bytes,
    steps: [
      ...pieces(d, path, bytes).slice(0, -1),
      step(d, [path], () => at(path, 'w', () => {})),
      ...pieces(d, path, bytes),
    ],
  }),
  'deleted half way, written anew': (d, path, bytes) => ({
    bytes,
    steps: [step(d, [path], put(path, bytes, 0, 3000)), step(d, [path], () => rmSync(path)), ...pieces(d, path, bytes)],
  }),
  'given up half way': (d, path, bytes) => ({
    bytes: null,
    steps: pieces(d, path, bytes.subarray(0, bytes.length - 2880 + 2)).slice(0, -1),
  }),
}

/** @returns a writer of a random manner; one that gives up before its first piece is none, so it writes at least that */
export function writer(seed: number, folder: string): Writer {
  const d = dice(seed)
  const names = Object.keys(manners)
  const manner = names[seed % names.length]
  const path = join(folder, `${String(seed).padStart(6, '0')}.${d.chance(0.5) ? 'fits' : 'FIT'}`)
  const [width, height] = [30 + d.below(40), 30 + d.below(40)]
  const least = 2880 + width * height * 2
  const bytes = fitsBytes({ seed, width, height })
  const made = manners[manner](d, path, bytes)
  if (!made.steps.length) made.steps.push(step(d, [path], put(path, bytes, 0, 1000)))
  return { manner, path, least, ...made }
}
