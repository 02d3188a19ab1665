import type { Layout } from '../../main/contract/index.ts'
import type { ImageLevels } from './levels.ts'
import type { Size, View } from './view.ts'

/** What the window and its image worker say to each other. Pixels stay in the worker. */

export interface OpenImage {
  do: 'open'
  /** Where the bytes are, and what the host wants to see with the request. */
  url: string
  headers: Record<string, string>
  /** The unbundled fitsjs. */
  library: string
  layout: Layout
  cfa: string | null
  /** The first stored row stands at the bottom. */
  bottomUp: boolean
  /** Upper end of the scale of its values. */
  scaleTop: number
}

/** How it is to be seen. */
export interface Seen {
  view: View
  /** Device pixels. */
  canvas: Size
  /** Brightness of the median, of 1; null: as it is. */
  brightness: number | null
  colour: boolean
  red: boolean
}

export type ToImageWorker =
  | OpenImage
  | { do: 'canvas'; canvas: OffscreenCanvas }
  | { do: 'see'; seen: Seen }
  /** Columns and rows from 0, as stored. */
  | { do: 'value'; x: number; y: number }

export type FromImageWorker =
  | { say: 'progress'; rows: number }
  /** All rows are there. */
  | { say: 'levels'; levels: ImageLevels }
  | { say: 'value'; x: number; y: number; value: number | null }
  /** The canvas shows what was asked last; `whole` once all rows are there. */
  | { say: 'drawn'; whole: boolean; red: boolean }
  /** One sentence that says what to do. */
  | { say: 'failed'; text: string }
