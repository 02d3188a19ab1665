import { unzipSync } from 'node:zlib'
import { FitsError } from './error.ts'
import type { Header } from './header.ts'
import { decodeRice, leastRiceBytes, type BytePix } from './rice.ts'
import { bytesOf, bytesPerSample, swapBytes } from './samples.ts'
import type { Bitpix } from './structure.ts'

/** deflate cannot shrink further than 1032 : 1, so a larger claim is a lie (zlib's technical notes); some room for headers. */
const MOST_INFLATION = 1040

/** Turns a tile's bytes into its pixels, stored big-endian in `out`; false where they do not decode to exactly that. */
export type DecodeTile = (bytes: Buffer, pixels: number, out: Buffer) => boolean

export interface TileCodec {
  decode: DecodeTile
  /** The most pixel bytes that may come out of `length` compressed ones. */
  most(length: number): number
}

/**
 * The codec of COMPRESSED_DATA by ZCMPTYPE.
 * @throws FitsError `compression`, naming what is not read here
 */
export function tileCodec(header: Header, bitpix: Bitpix): TileCodec {
  const name = (header.text('ZCMPTYPE') ?? '').toUpperCase()
  refuseLossy(header, bitpix, name)
  if (name === 'RICE_1' || name === 'RICE_ONE') return riceCodec(header, bitpix, name)
  if (name === 'GZIP_1') return gzipCodec(bitpix, false)
  if (name === 'GZIP_2') return gzipCodec(bitpix, true)
  if (name === 'NOCOMPRESS') return rawCodec(bitpix)
  throw refusal(name ? `with ${name}` : 'in a way that its header does not name')
}

/** Quantised floats are no longer the numbers that the camera or the integration gave. */
function refuseLossy(header: Header, bitpix: Bitpix, name: string): void {
  if (bitpix > 0) return
  const method = header.text('ZQUANTIZ')?.toUpperCase() ?? null
  const columns = Array.from({ length: Math.min(header.number('TFIELDS') ?? 0, 999) }, (_, i) =>
    header.text(`TTYPE${i + 1}`),
  )
  const gzip = name === 'GZIP_1' || name === 'GZIP_2' || name === 'NOCOMPRESS'
  const scaled = columns.includes('ZSCALE') || header.has('ZSCALE')
  if (gzip && (method === 'NONE' || (method === null && !scaled))) return
  const how = method && method !== 'NONE' ? `floats quantised by ${method}` : 'quantised floats'
  throw refusal(`with ${name || 'an unnamed method'}, ${how}`)
}

function refusal(how: string): FitsError {
  return new FitsError(
    'compression',
    `This image is compressed ${how}, which is not read here: unpack it with a FITS tool, or pack it losslessly with RICE_1 or GZIP_2.`,
  )
}

/** The value of a compression parameter (ZNAMEi, ZVALi). */
function parameter(header: Header, name: string): number | null {
  for (let i = 1; i <= 99; i++) {
    const found = header.text(`ZNAME${i}`)
    if (found === null) return null
    if (found.toUpperCase() === name) return header.number(`ZVAL${i}`)
  }
  return null
}

function riceCodec(header: Header, bitpix: Bitpix, name: string): TileCodec {
  const blockSize = parameter(header, 'BLOCKSIZE') ?? 32
  const bytePix = parameter(header, 'BYTEPIX') ?? 4
  if (blockSize !== 16 && blockSize !== 32) throw refusal(`with ${name} in blocks of ${blockSize}`)
  if (bytePix !== 1 && bytePix !== 2 && bytePix !== 4) throw refusal(`with ${name} of ${bytePix} bytes a pixel`)
  const size = bytesPerSample(bitpix)
  return {
    decode(bytes, pixels, out) {
      if (bytes.length < leastRiceBytes(pixels, bytePix, blockSize)) return false
      const values = bytePix === size ? integersIn(out, bytePix) : integersIn(null, bytePix, pixels)
      if (!decodeRice(bytes, blockSize, bytePix, values)) return false
      const decoded = bytesOf(values)
      swapBytes(decoded, bytePix)
      return bytePix === size ? share(decoded, out) : widen(decoded, bytePix, out, size)
    },
    // One code of 3 to 5 bits may stand for a whole block of equal pixels.
    most: (length) => (length * 8 * blockSize * size) / 3 + blockSize * size,
  }
}

/** Integers in the memory of `out` where it is aligned for them, else in memory of their own. */
function integersIn(out: Buffer | null, bytePix: BytePix, pixels = 0): Uint8Array | Int16Array | Int32Array {
  const Integers = bytePix === 1 ? Uint8Array : bytePix === 2 ? Int16Array : Int32Array
  if (out && out.byteOffset % bytePix === 0)
    return new Integers(out.buffer as ArrayBuffer, out.byteOffset, out.length / bytePix)
  return new Integers(out ? out.length / bytePix : pixels)
}

function share(decoded: Buffer, out: Buffer): boolean {
  if (decoded.buffer !== out.buffer) decoded.copy(out)
  return true
}

function gzipCodec(bitpix: Bitpix, shuffled: boolean): TileCodec {
  const size = bytesPerSample(bitpix)
  return {
    decode(bytes, pixels, out) {
      // Some compressors write 16-bit images as 32-bit integers.
      const unpacked = gunzip(bytes, pixels * Math.max(size, 4))
      if (!unpacked) return false
      const width = unpacked.length / pixels
      const plain = shuffled && width > 1 && Number.isInteger(width) ? unshuffle(unpacked, width) : unpacked
      return fit(plain, width, out, size, bitpix)
    },
    most: (length) => length * MOST_INFLATION + 1024,
  }
}

/** Bounded: never more than `most` bytes come out, whatever the stream claims. */
export function gunzip(bytes: Buffer, most: number): Buffer | null {
  try {
    return unzipSync(bytes, { maxOutputLength: most, chunkSize: Math.max(64, Math.min(most, bytes.length * 8)) })
  } catch {
    return null
  }
}

/** GZIP_2 holds all most significant bytes first, then the next ones. */
function unshuffle(bytes: Buffer, width: number): Buffer {
  const pixels = bytes.length / width
  const out = Buffer.allocUnsafe(bytes.length)
  for (let b = 0; b < width; b++)
    for (let i = 0, from = b * pixels; i < pixels; i++) out[i * width + b] = bytes[from + i]
  return out
}

function rawCodec(bitpix: Bitpix): TileCodec {
  const size = bytesPerSample(bitpix)
  return {
    decode: (bytes, pixels, out) => fit(bytes, bytes.length / pixels, out, size, bitpix),
    most: (length) => length * 8,
  }
}

/** UNCOMPRESSED_DATA and GZIP_COMPRESSED_DATA: what tiles fall back to that the named method could not shrink. */
export function fallbackCodecs(bitpix: Bitpix): { gzip: TileCodec; raw: TileCodec } {
  return { gzip: gzipCodec(bitpix, false), raw: rawCodec(bitpix) }
}

/** Big-endian numbers of `width` bytes into pixels of `size` bytes. */
function fit(bytes: Buffer, width: number, out: Buffer, size: number, bitpix: Bitpix): boolean {
  if (width === size) return bytes.copy(out) === out.length
  return bitpix > 0 && widen(bytes, width, out, size)
}

/** Integers of another width than the image's (bytes are unsigned, all others signed); false where a value does not fit. */
function widen(bytes: Buffer, width: number, out: Buffer, size: number): boolean {
  if (![1, 2, 4, 8].includes(width)) return false
  const [low, high] = size === 1 ? [0, 255] : [-(2 ** (size * 8 - 1)), 2 ** (size * 8 - 1) - 1]
  for (let from = 0, to = 0; to < out.length; from += width, to += size) {
    if (width === 8 || size === 8) {
      const value = width === 8 ? bytes.readBigInt64BE(from) : BigInt(readInteger(bytes, from, width))
      if (value < BigInt(low) || (size < 8 && value > BigInt(high))) return false
      if (size === 8) out.writeBigInt64BE(value, to)
      else writeInteger(out, Number(value), to, size)
    } else {
      const value = readInteger(bytes, from, width)
      if (value < low || value > high) return false
      writeInteger(out, value, to, size)
    }
  }
  return true
}

const readInteger = (bytes: Buffer, at: number, width: number): number =>
  width === 1 ? bytes[at] : bytes.readIntBE(at, width)

function writeInteger(out: Buffer, value: number, at: number, size: number): void {
  if (size === 1) out[at] = value
  else out.writeIntBE(value, at, size)
}
