import { FitsError } from './error.ts'
import { BLOCK_LENGTH, type Header } from './header.ts'

export const BITPIX = [8, 16, 32, 64, -32, -64] as const
export type Bitpix = (typeof BITPIX)[number]

/** The shape of one header-and-data unit, from its header alone: nothing in it has been held against the file yet. */
export interface UnitShape {
  /** '' for the primary unit, else XTENSION: IMAGE, BINTABLE, TABLE, … */
  extension: string
  bitpix: Bitpix
  /** NAXIS1, NAXIS2, …: the first varies fastest. */
  axes: number[]
  /** Bytes of data without the padding to a whole block. */
  dataLength: number
  /** ZCMPTYPE of a table that holds a tile-compressed image, else null. */
  compression: string | null
}

/** The image in a unit, after decompression. */
export interface ImageShape {
  width: number
  height: number
  /** Product of the axes from the third on. */
  planes: number
  bitpix: Bitpix
  axes: number[]
}

export const padded = (length: number): number => Math.ceil(length / BLOCK_LENGTH) * BLOCK_LENGTH

/**
 * Data size in bytes = |BITPIX|/8 × GCOUNT × (PCOUNT + NAXIS1 × … × NAXISm) (standard 4.0, 4.4.1).
 * @throws FitsError `header-bad`, `size-impossible`
 */
export function unitShape(header: Header): UnitShape {
  const extension = header.text('XTENSION')?.toUpperCase() ?? ''
  const bitpix = bitpixOf(header, 'BITPIX')
  const axes = axesOf(header, 'NAXIS')
  const groups = extension === '' && header.logical('GROUPS') === true && axes[0] === 0
  const counted = extension !== '' || groups
  const pcount = counted ? count(header, 'PCOUNT', 0) : 0
  const gcount = counted ? count(header, 'GCOUNT', 1) : 1
  const pixels = product(groups ? axes.slice(1) : axes)
  const dataLength = safe((Math.abs(bitpix) / 8) * gcount * (pcount + pixels))
  const compressed = extension === 'BINTABLE' && header.logical('ZIMAGE') === true
  return { extension, bitpix, axes, dataLength, compression: compressed ? (header.text('ZCMPTYPE') ?? '?') : null }
}

/** The image that a unit holds, or null: an image with data, plain or as a compressed table. */
export function imageShape(header: Header, shape: UnitShape): ImageShape | null {
  if (shape.compression !== null) return imageOf(bitpixOf(header, 'ZBITPIX'), axesOf(header, 'ZNAXIS'))
  const isImage = shape.extension === '' || shape.extension === 'IMAGE'
  return isImage && shape.dataLength > 0 && shape.axes[0] > 0 ? imageOf(shape.bitpix, shape.axes) : null
}

function imageOf(bitpix: Bitpix, axes: number[]): ImageShape | null {
  const pixels = product(axes)
  if (pixels === 0) return null
  safe(pixels * 8)
  const [width, height = 1] = axes
  return { width, height, planes: pixels / width / height, bitpix, axes }
}

function bitpixOf(header: Header, keyword: string): Bitpix {
  const value = header.number(keyword)
  if (BITPIX.includes(value as Bitpix)) return value as Bitpix
  throw new FitsError(
    'header-bad',
    `The header's ${keyword} is ${value ?? 'missing'}, which no image has: write this file again or copy it again from the camera computer.`,
  )
}

function axesOf(header: Header, keyword: string): number[] {
  const axes: number[] = []
  const number = header.number(keyword)
  if (number === null || !Number.isInteger(number) || number < 0 || number > 999) throw badCount(keyword, number)
  for (let i = 1; i <= number; i++) axes.push(count(header, keyword + i))
  return axes
}

function count(header: Header, keyword: string, fallback?: number): number {
  const value = header.number(keyword)
  if (value === null && fallback !== undefined && !header.has(keyword)) return fallback
  if (value === null || !Number.isInteger(value) || value < 0) throw badCount(keyword, value)
  return value
}

function badCount(keyword: string, value: number | null): FitsError {
  return new FitsError(
    'header-bad',
    `The header's ${keyword} is ${value ?? 'missing'}, so the image has no size: write this file again or copy it again from the camera computer.`,
  )
}

/** Product of the axes; no axes, no pixels. Every factor is an exact integer, so a product that is not safe is refused. */
function product(axes: number[]): number {
  return axes.length === 0 || axes.includes(0) ? 0 : safe(axes.reduce((a, b) => a * b, 1))
}

function safe(bytes: number): number {
  if (Number.isSafeInteger(bytes)) return bytes
  throw new FitsError(
    'size-impossible',
    'The header claims an image larger than any file: copy this file again from the camera computer.',
  )
}
