import { UNIT_ADU } from '../contract/master.ts'
import { openImage } from '../fits/image.ts'
import { finiteCopy, selectSmallest } from '../measure/select.ts'
import { blockMedians } from './block-map.ts'
import { BLOCK_PX, darkFigures, flatFigures, type Picture } from './figures.ts'
import type { Figured, LookAsk } from './job.ts'
import { pictureOf } from './picture.ts'

/** What the page of a master shows besides its figures. */
export interface MasterDetail {
  /** Block medians, ADU, row by row; null where a block holds no number. */
  glow: { blockPx: number; columns: number; rows: number; medians: (number | null)[] }
  /** From the darkest to the brightest thousandth, in equal steps; what lies beyond counts in the first and last one. */
  histogram: { fromAdu: number; toAdu: number; counts: number[] }
  /** Where they were asked for. */
  looked: Figured | null
}

const BINS = 128

/** @throws FitsError where the file cannot be read */
export function readDetail(path: string, look: LookAsk | null): MasterDetail {
  const { pixels, width, height } = readPixels(path)
  const { blockPx, columns, rows, medians } = blockMedians(pixels, width, height, BLOCK_PX)
  const glow = { blockPx, columns, rows, medians: Array.from(medians, (m) => (Number.isFinite(m) ? m : null)) }
  return { glow, histogram: histogramOf(finiteCopy(pixels)), looked: look && lookAt({ pixels, width, height }, look) }
}

/** Figures and picture alone. @throws FitsError where the file cannot be read */
export const readLook = (path: string, look: LookAsk): Figured => lookAt(readPixels(path), look)

function readPixels(path: string): Omit<Picture, 'cfa'> {
  using image = openImage(path)
  const { width, height } = image
  const pixels = new Float32Array(width * height)
  image.readRows(0, height, pixels)
  return { pixels, width, height }
}

/** Turns values from 0 to 1 into ADU where they are. */
function lookAt(image: Omit<Picture, 'cfa'>, { cfa, flat, unit }: LookAsk): Figured {
  if (unit) for (let i = 0; i < image.pixels.length; i++) image.pixels[i] *= UNIT_ADU
  const picture = { ...image, cfa }
  return { figures: flat ? flatFigures(picture, null) : darkFigures(picture, null), thumbnail: pictureOf(picture) }
}

function histogramOf(values: Float32Array): MasterDetail['histogram'] {
  const counts = new Array<number>(BINS).fill(0)
  if (values.length === 0) return { fromAdu: 0, toAdu: 0, counts }
  const last = values.length - 1
  const fromAdu = selectSmallest(values, Math.floor(last / 1000))
  const toAdu = selectSmallest(values, Math.ceil(last - last / 1000))
  const perAdu = BINS / Math.max(toAdu - fromAdu, 1e-6)
  for (const value of values) counts[Math.min(BINS - 1, Math.max(0, Math.floor((value - fromAdu) * perAdu)))]++
  return { fromAdu, toAdu, counts }
}
