import type { Layout } from '../../main/contract/index.ts'
import type { Samples, SamplesPlan } from './samples.ts'

/**
 * fitsjs's own frame decoder, `astro.FITS.Image.prototype._getFrame`: turns the big-endian numbers of `buffer` round in place and
 * applies `zero` and `scale`. Its result lies over `buffer`, but for bytes and for broken zeros and scales.
 */
export type FrameDecoder = (buffer: ArrayBuffer, bitpix: number, zero: number, scale: number) => Samples

/** The library as a script leaves it on the global object; nothing else of it is used here. */
export interface FitsLibrary {
  FITS: { Image: { prototype: { _getFrame: FrameDecoder } } }
}

/**
 * Decodes whole rows of a plain image with fitsjs 0.6.6, whose results are trusted only as far as they hold:
 * - unsigned integers come out in a signed array, the upper half negative: the same memory is read as unsigned;
 * - signed bytes come out in an unsigned array, likewise;
 * - −0 would become 0 by the addition of a zero: a zero of −0 keeps it;
 * - floats of 64 bits are unknown to it: it turns them round as pairs of 32-bit words, which then change places;
 * - a scale would overflow the stored type: it is applied here, in float64.
 * It reads no header (quoted values with ` /` and CONTINUE are beyond it) and no tiles: the engine does.
 * @param bytes big-endian numbers of whole rows; overwritten
 * @param out takes the values from `at` on; of the plan's type
 */
export function decodeRows(
  decode: FrameDecoder,
  bytes: ArrayBuffer,
  layout: Layout,
  plan: SamplesPlan,
  out: Samples,
  at: number,
): void {
  const stored =
    plan.are === 'flipped' ? decodeFlipped(decode, bytes, layout) : decodePlain(decode, bytes, layout.bitpix)
  if (plan.are !== 'physical') out.set(stored, at)
  else toPhysical(stored, layout, out, at)
}

function decodePlain(decode: FrameDecoder, bytes: ArrayBuffer, bitpix: Layout['bitpix']): Samples {
  if (bitpix === -64) return new Float64Array(swapHalves(decode(bytes, 32, 0, 1) as Int32Array).buffer)
  return decode(bytes, bitpix, bitpix < 0 ? -0 : 0, 1)
}

function decodeFlipped(decode: FrameDecoder, bytes: ArrayBuffer, { bitpix, zero }: Layout): Samples {
  const { buffer } = decode(bytes, bitpix, zero, 1)
  if (bitpix === 8) return new Int16Array(buffer)
  return bitpix === 16 ? new Uint16Array(buffer) : new Uint32Array(buffer)
}

function swapHalves(words: Int32Array): Int32Array {
  for (let i = 0; i < words.length; i += 2) {
    const high = words[i]
    words[i] = words[i + 1]
    words[i + 1] = high
  }
  return words
}

function toPhysical(stored: Samples, { zero, scale, blank }: Layout, out: Samples, at: number): void {
  for (let i = 0; i < stored.length; i++) out[at + i] = stored[i] === blank ? NaN : zero + scale * stored[i]
}
