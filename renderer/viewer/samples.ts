import type { Layout } from '../../main/contract/index.ts'

/** Pixels as the window holds them, row by row as stored. */
export type Samples =
  Uint8Array | Int8Array | Uint16Array | Int16Array | Uint32Array | Int32Array | Float32Array | Float64Array
type SamplesClass = { new (length: number): Samples; readonly BYTES_PER_ELEMENT: number }

/** Table 11 of the FITS standard 4.0: the BZERO that says integers of the other signedness, and the type that holds them. */
const conventions: Record<number, { zero: number; plain: SamplesClass; flipped: SamplesClass }> = {
  8: { zero: -128, plain: Uint8Array, flipped: Int8Array },
  16: { zero: 32768, plain: Int16Array, flipped: Uint16Array },
  32: { zero: 2147483648, plain: Int32Array, flipped: Uint32Array },
}

export interface SamplesPlan {
  /** Array type in which no value loses anything; integers with a scale or a BLANK become floats. */
  type: SamplesClass
  /** `plain` and `flipped`: as stored, as the other signedness. `physical`: BZERO + BSCALE × stored, BLANK as NaN. */
  are: 'plain' | 'flipped' | 'physical'
}

/** In which numbers the pixels of a layout are held. */
export function planSamples({ bitpix, zero, scale, blank }: Layout): SamplesPlan {
  const convention = conventions[bitpix]
  const unscaled = scale === 1 && zero === 0
  if (!convention) return { type: bitpix === -32 ? Float32Array : Float64Array, are: unscaled ? 'plain' : 'physical' }
  if (blank === null && unscaled) return { type: convention.plain, are: 'plain' }
  if (blank === null && scale === 1 && zero === convention.zero) return { type: convention.flipped, are: 'flipped' }
  return { type: bitpix === 32 ? Float64Array : Float32Array, are: 'physical' }
}

/** True for types of at most 16 bits: every value has a place of its own in a table. */
export const isSmallInteger = (samples: Samples): boolean =>
  samples.BYTES_PER_ELEMENT <= 2 && !(samples instanceof Float32Array)

/** Most bytes of pixels that the window holds at once. */
export const MOST_BYTES = 2 ** 30

/** Bytes that the pixels of the first plane take in memory. */
export const bytesOfSamples = (layout: Layout): number =>
  layout.width * layout.height * planSamples(layout).type.BYTES_PER_ELEMENT
