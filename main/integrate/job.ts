import type { MasterDetail } from './detail.ts'
import type { MasterFigures } from './figures.ts'
import type { MasterContent, Written } from './master-file.ts'
import type { Method } from './method.ts'

/** What the threads of one integration share, and what one of them is asked. Arrays are shared memory. */
export type ThreadAsk = SurveyAsk | CombineAsk | FiguresAsk | WriteAsk | HashAsk | DetailAsk | JustLookAsk
export type ThreadAnswer = Surveyed[] | CombinedStrips | Figured | Written | string | MasterDetail

/** Claimed frame by frame: one pass over a file for its hash and its mean. */
export interface SurveyAsk {
  task: 'survey'
  paths: string[]
  control: SharedArrayBuffer
  hash: boolean
  /** Float32, width × height: subtracted before the mean is taken. */
  dark: SharedArrayBuffer | null
  mean: boolean
}
export interface Surveyed {
  frame: number
  sha256: string | null
  mean: number | null
}

/** Claimed strip by strip. */
export interface CombineAsk {
  task: 'combine'
  paths: string[]
  /** Factor for each frame after subtraction, null for none (then nothing is subtracted either). */
  scales: number[] | null
  method: Method
  width: number
  height: number
  rowsPerStrip: number
  /** BZERO of 16-bit integers without BSCALE and BLANK; null where the float64 kernel is needed. */
  integerZero: number | null
  out: SharedArrayBuffer
  dark: SharedArrayBuffer | null
  control: SharedArrayBuffer
  /** Rows at the start of each strip from which the noise is measured; see noise.ts. */
  sample: { rows: number; halves: SharedArrayBuffer; pair: SharedArrayBuffer } | null
}
export interface CombinedStrips {
  leftOut: number
}

/** Asked of one thread, once the master is there. */
export interface FiguresAsk {
  task: 'figures'
  pixels: SharedArrayBuffer
  width: number
  height: number
  cfa: string | null
  flat: boolean
  /** Samples of combined strips, from which the noise is measured; null where there are none. */
  sample: { halves: SharedArrayBuffer; pair: SharedArrayBuffer; frames: number; method: Method } | null
}
export interface Figured {
  figures: MasterFigures
  /** PNG, about 420 pixels wide. */
  thumbnail: Uint8Array
}

/** A master to be written as a file, or only hashed as one; see master-file.ts. */
export interface WriteAsk {
  task: 'write'
  folder: string
  name: string
  content: MasterContent
}
export interface HashAsk {
  task: 'hash'
  scratch: string
  content: MasterContent
}

/** What the page of a master shows, from its file; see detail.ts. */
export interface DetailAsk {
  task: 'detail'
  path: string
  look: LookAsk | null
}

export interface JustLookAsk {
  task: 'look'
  path: string
  look: LookAsk
}

/** Figures and picture of a master that was made elsewhere: without its frames its noise stays unknown. */
export interface LookAsk {
  /** Four letters from the first stored pixel; null for mono. */
  cfa: string | null
  flat: boolean
  /** Its values go from 0 to 1: figures are in ADU all the same. */
  unit: boolean
}

/** Words of `control`. */
export const NEXT = 0
export const DONE = 1
export const STOP = 2
export const CONTROL_BYTES = 16

/** The next task that nobody has taken, or null when all are taken or the work was stopped. */
export function claim(control: Int32Array, tasks: number): number | null {
  if (Atomics.load(control, STOP)) return null
  const task = Atomics.add(control, NEXT, 1)
  return task < tasks ? task : null
}
