import { closeSync, fstatSync, readSync } from 'node:fs'
import { hash } from 'node:crypto'
import { FitsError, asFitsError } from '../../fits/error.ts'
import { openForReading, readFitsInfo, type FitsInfo } from '../../fits/file.ts'
import { fileStat, isSame, type FileStat } from '../../watch/stat.ts'

/** One file, read as far as logging needs: headers and the last 4 KiB, no pixels. */
export interface FrameReading {
  path: string
  stat: FileStat
  info: FitsInfo
  /** Raw bytes of the headers, as `FitsInfo` has them. */
  headerBytes: Uint8Array
  /**
   * SHA-256 over the header bytes, the exact length (eight bytes, big-endian) and the last 4 KiB: sensor noise tells apart
   * two frames whose headers are equal, and a copy under another name is known as the same frame.
   */
  fingerprint: Buffer
  /** Why the frame is broken, one sentence; null where it is whole. */
  problem: string | null
}

export const TAIL_LENGTH = 4096
/** Zeros at the end of a file that was given its length before it was written. */
const ZEROS_LENGTH = 65_536

/** Room for the header of nearly every camera; a longer one gets room of its own. */
const hashed = Buffer.allocUnsafeSlow(1 << 17)

/**
 * Reads one file for logging. A truncated file is read too: it is a frame with a problem.
 * @param seen its stat from a moment ago, if it is known: spares one look
 * @throws FitsError, one sentence, for a file that cannot be parsed at all or that changes while it is read
 */
export function readFrameFile(path: string, seen?: FileStat): FrameReading {
  const fd = openForReading(path)
  try {
    const before = seen ?? fileStat(fstatSync(fd))
    const info = readFitsInfo(fd)
    const fingerprint = fingerprintOf(fd, info)
    const problem = problemOf(fd, info)
    const stat = fileStat(fstatSync(fd))
    if (isSame(before, stat) && info.fileSize === stat.size)
      return { path, stat, info, headerBytes: info.headerBytes, fingerprint, problem }
    // What was seen a moment ago may be older than the last write; what is seen from here on counts.
    if (seen) return readFrameFile(path)
    throw new FitsError('unreadable', 'This file was changed while it was being read: log it again when it is whole.')
  } catch (error) {
    throw asFitsError(error)
  } finally {
    closeSync(fd)
  }
}

function fingerprintOf(fd: number, { headerBytes, fileSize }: FitsInfo): Buffer {
  const tailLength = Math.min(TAIL_LENGTH, fileSize)
  const most = headerBytes.length + 8 + tailLength
  const bytes = most <= hashed.length ? hashed : Buffer.allocUnsafe(most)
  bytes.set(headerBytes)
  bytes.writeBigUInt64BE(BigInt(fileSize), headerBytes.length)
  const got = readSync(fd, bytes, headerBytes.length + 8, tailLength, fileSize - tailLength)
  return hash('sha256', bytes.subarray(0, headerBytes.length + 8 + got), 'buffer')
}

function problemOf(fd: number, info: FitsInfo): string | null {
  if (info.state === 'header cut')
    return 'This file ends inside the header of its image: copy it again from the camera computer.'
  if (!info.image) return 'This FITS file holds no image: take it out of the folder of frames.'
  if (info.state === 'data cut') {
    const present = Math.floor((info.fileSize / info.leastLength) * 100)
    return `This file is cut off, ${present} % of it is there: copy it again from the camera computer, or shoot the frame again.`
  }
  return endsInZeros(fd, info)
    ? 'The end of this file holds only zeros, so it was never written to its end: copy it again from the camera computer, or shoot the frame again.'
    : null
}

/**
 * A program that gives a file its length first and then dies leaves zeros to its end. Only an end of at least 64 KiB counts,
 * and only after data that are not zero themselves: an image may well be zero throughout.
 */
function endsInZeros(fd: number, info: FitsInfo): boolean {
  const from = info.imageUnit!.dataOffset
  if (info.leastLength - from < 2 * ZEROS_LENGTH || !isZero(fd, info.leastLength - 512, 512)) return false
  return isZero(fd, info.leastLength - ZEROS_LENGTH, ZEROS_LENGTH) && !isZero(fd, from, ZEROS_LENGTH)
}

function isZero(fd: number, from: number, count: number): boolean {
  const bytes = Buffer.allocUnsafe(count)
  const got = readSync(fd, bytes, 0, count, from)
  return bytes.subarray(0, got).every((byte) => byte === 0)
}
