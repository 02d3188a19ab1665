import { closeSync, readSync } from 'node:fs'
import { sumWords } from './checksum.ts'
import { asFitsError } from './error.ts'
import { openForReading, readFitsInfo } from './file.ts'
import { padded } from './structure.ts'

/** Whether one unit's sums hold; null where its header has none. */
export interface UnitSums {
  /** DATASUM against the data. */
  data: boolean | null
  /** CHECKSUM: header and data sum to 0xFFFFFFFF. */
  whole: boolean | null
}

/**
 * Holds the sums in a file's headers against its bytes, reading the whole file once in pieces.
 * @returns one entry for each unit, in order
 * @throws FitsError as `readFitsInfo`
 */
export function verifyChecksums(path: string): UnitSums[] {
  const fd = openForReading(path)
  try {
    return readFitsInfo(fd).units.map((unit) => {
      const data = sumOf(fd, unit.dataOffset, unit.dataOffset + padded(unit.dataLength))
      const whole = sumOf(fd, unit.offset, unit.dataOffset, data)
      const stated = unit.header.text('DATASUM')
      return {
        data: stated === null ? null : Number(stated) === data,
        // All ones is the sum's other zero: it is what a unit with its CHECKSUM in place sums to.
        whole: unit.header.text('CHECKSUM') === null ? null : whole === 0xffffffff,
      }
    })
  } catch (error) {
    throw asFitsError(error)
  } finally {
    closeSync(fd)
  }
}

const piece = Buffer.allocUnsafeSlow(1 << 18)

function sumOf(fd: number, from: number, to: number, sum = 0): number {
  for (let at = from; at < to;) {
    const got = readSync(fd, piece, 0, Math.min(piece.length, to - at), at)
    if (got === 0) break
    sum = sumWords(piece.subarray(0, got), sum, at - from)
    at += got
  }
  return sum
}
