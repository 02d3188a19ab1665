import type { Header } from './header.ts'
import type { Bitpix } from './structure.ts'

export type SampleType =
  'uint8' | 'int8' | 'uint16' | 'int16' | 'uint32' | 'int32' | 'uint64' | 'int64' | 'float32' | 'float64'

export type Samples =
  | Uint8Array
  | Int8Array
  | Uint16Array
  | Int16Array
  | Uint32Array
  | Int32Array
  | BigUint64Array
  | BigInt64Array
  | Float32Array
  | Float64Array

const ARRAYS = {
  uint8: Uint8Array,
  int8: Int8Array,
  uint16: Uint16Array,
  int16: Int16Array,
  uint32: Uint32Array,
  int32: Int32Array,
  uint64: BigUint64Array,
  int64: BigInt64Array,
  float32: Float32Array,
  float64: Float64Array,
}

/** How stored numbers become samples and physical values (standard 4.0, 4.4.2.5 and 5.2). */
export interface Scaling {
  bitpix: Bitpix
  bscale: number
  bzero: number
  /** The sample of an undefined pixel (BLANK, as it is after the flip), null if none is named. */
  blankSample: number | bigint | null
  /** The type in which the samples are exact. */
  sampleType: SampleType
  /** The sample differs from the stored number by the sign-bit flip of the unsigned (for bytes: signed) convention. */
  flipped: boolean
  /** The samples are the physical values already: no scale is left to apply. */
  exact: boolean
}

/** Table 11 of the standard: BZERO of integers of the other signedness, and the type that holds them. */
const CONVENTIONS: Partial<Record<Bitpix, { plain: SampleType; bzero: number; flipped: SampleType }>> = {
  8: { plain: 'uint8', bzero: -128, flipped: 'int8' },
  16: { plain: 'int16', bzero: 32768, flipped: 'uint16' },
  32: { plain: 'int32', bzero: 2147483648, flipped: 'uint32' },
  64: { plain: 'int64', bzero: 9223372036854775808, flipped: 'uint64' },
}

export function scalingOf(header: Header, bitpix: Bitpix): Scaling {
  const bscale = header.number('BSCALE') ?? 1
  const bzero = header.number('BZERO') ?? 0
  const convention = CONVENTIONS[bitpix]
  const unscaled = bscale === 1 && bzero === 0
  const base = { bitpix, bscale, bzero }
  if (!convention)
    return {
      ...base,
      blankSample: null,
      sampleType: bitpix === -32 ? 'float32' : 'float64',
      flipped: false,
      exact: unscaled,
    }
  const flipped = bscale === 1 && bzero === convention.bzero
  return {
    ...base,
    blankSample: blankSampleOf(header, bitpix, flipped ? BigInt(convention.bzero) : 0n),
    sampleType: flipped ? convention.flipped : convention.plain,
    flipped,
    exact: flipped || unscaled,
  }
}

/** BLANK names the stored integer (standard 4.0, BLANK); it may be too large for a double. */
function blankSampleOf(header: Header, bitpix: Bitpix, shift: bigint): number | bigint | null {
  const blank = header.value('BLANK')
  const whole = typeof blank === 'bigint' || (typeof blank === 'number' && Number.isInteger(blank))
  if (!whole) return null
  const sample = BigInt(blank) + shift
  return bitpix === 64 ? sample : Number(sample)
}

export function createSamples(type: SampleType, length: number): Samples {
  return new ARRAYS[type](length)
}

export function isOfType(samples: Samples, type: SampleType): boolean {
  return samples instanceof ARRAYS[type]
}

export const bytesPerSample = (bitpix: Bitpix): number => Math.abs(bitpix) / 8

/** The same memory as bytes. */
export function bytesOf(samples: ArrayBufferView): Buffer {
  return Buffer.from(samples.buffer as ArrayBuffer, samples.byteOffset, samples.byteLength)
}

/** Turns big-endian numbers of `size` bytes into little-endian ones, in place, and back: every machine that this runs on is little-endian. */
export function swapBytes(bytes: Buffer, size: number): void {
  if (size === 2) bytes.swap16()
  else if (size === 4) bytes.swap32()
  else if (size === 8) bytes.swap64()
}

/** Flips the sign bit of each number in place: stored signed ↔ unsigned sample, exactly. */
export function flipSigns(samples: Samples): void {
  const { buffer, byteOffset, byteLength, BYTES_PER_ELEMENT: size } = samples
  if (size === 8) {
    const high = new Uint32Array(buffer, byteOffset, byteLength >>> 2)
    for (let i = 1; i < high.length; i += 2) high[i] ^= 0x80000000
    return
  }
  const pattern = size === 1 ? 0x80808080 : size === 2 ? 0x80008000 : 0x80000000
  const whole = byteOffset % 4 === 0 ? byteLength >>> 2 : 0
  const words = new Uint32Array(buffer, whole ? byteOffset : 0, whole)
  for (let i = 0; i < whole; i++) words[i] ^= pattern
  const bytes = new Uint8Array(buffer, byteOffset, byteLength)
  for (let i = whole * 4 + size - 1; i < byteLength; i += size) bytes[i] ^= 0x80
}

/**
 * Physical values from samples: BZERO + BSCALE × stored in float64, BLANK as NaN, NaN kept.
 * `samples` and `out` have the same length; a float32 `out` rounds once, at the end.
 */
export function toPhysical(samples: Samples, scaling: Scaling, out: Float32Array | Float64Array): void {
  const scale = scaling.exact ? 1 : scaling.bscale
  const zero = scaling.exact ? 0 : scaling.bzero
  const { blankSample } = scaling
  if (samples instanceof BigInt64Array || samples instanceof BigUint64Array) {
    for (let i = 0; i < out.length; i++) out[i] = samples[i] === blankSample ? NaN : zero + scale * Number(samples[i])
  } else if (scaling.exact && blankSample === null) {
    out.set(samples)
  } else {
    for (let i = 0; i < out.length; i++) out[i] = samples[i] === blankSample ? NaN : zero + scale * samples[i]
  }
}
