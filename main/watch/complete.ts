import { closeSync, fstatSync, readSync, statSync } from 'node:fs'
import { asFitsError, FitsError, type FitsErrorCode } from '../fits/error.ts'
import { openForReading, readFitsInfo, type FitsInfo } from '../fits/file.ts'
import { fileStat, isSame, type FileStat } from './stat.ts'

/**
 * - `complete` all its bytes are there
 * - `growing` they are not, or it changed while it was read; `need` bytes are announced so far (0: not even that is known)
 * - `settling` it may be whole as it is, but may also be in the making: it counts once it has been quiet, the longer the more
 *   zeros it ends in
 * - `unusable` no frame as it is; it may still become one
 * - `gone` not there (any more)
 */
export type Look =
  | { state: 'complete'; stat: FileStat; info: FileShape }
  | { state: 'growing'; stat: FileStat; need: number; reason: string }
  | { state: 'settling'; stat: FileStat; info: FileShape; zeros: Zeros; reason: string }
  | { state: 'unusable'; stat: FileStat; code: FitsErrorCode; reason: string }
  | { state: 'gone' }

/** What a header says of its file. */
export type FileShape = Pick<FitsInfo, 'fileSize' | 'mtimeMs' | 'image' | 'expectedLength' | 'leastLength' | 'state'>

/** What an earlier look found: the file, and the bytes that its header announced (0: not even that was known). */
export interface Before {
  need: number
  stat: FileStat
}

/** As `lookAt`; a file that is still shorter than its header announced needs no second reading: one stat tells. */
export const lookAgain = (path: string, before: Before | null): Look =>
  (before && stillShort(path, before)) ?? lookAt(path)

function stillShort(path: string, { need, stat: before }: Before): Look | null {
  if (need === 0) return null
  try {
    const named = statSync(path)
    const stat = fileStat(named)
    if (!named.isFile() || stat.size >= need || stat.inode !== before.inode || stat.size < before.size) return null
    const reason = `Only ${Math.floor((stat.size / need) * 100)} % of this file is there: wait until it is written, or shoot the frame again.`
    return { state: 'growing', stat, need, reason }
  } catch {
    return null
  }
}

/**
 * Looks whether a file is complete, by its own header: that many bytes are there through a fresh handle, its last sample is
 * written, and size, time and inode are the same before and after. Reads headers and the tail, no pixels; never throws for what
 * a file holds, never waits (a pipe is not opened), never writes.
 */
export function lookAt(path: string): Look {
  let fd: number | null = null
  let stat: FileStat = { size: 0, modifiedMs: 0, changedMs: 0, inode: 0 }
  try {
    const named = statSync(path)
    stat = fileStat(named)
    if (!named.isFile()) return { state: 'unusable', stat, code: 'unreadable', reason: notAFile(named.isDirectory()) }
    fd = openForReading(path)
    stat = fileStat(fstatSync(fd))
    const info = readFitsInfo(fd)
    const zeros = info.image ? zerosAtEnd(fd, info) : 'none'
    if (!isSame(stat, fileStat(statSync(path))) || info.fileSize !== stat.size)
      return { state: 'growing', stat, need: 0, reason: 'This file is being written.' }
    return judge(stat, info, zeros)
  } catch (error) {
    return judgeError(asFitsError(error), stat)
  } finally {
    if (fd !== null) closeSync(fd)
  }
}

export const notAFile = (folder: boolean): string =>
  folder
    ? 'This is a folder with the name of a FITS file: give it another name.'
    : 'This is a pipe or a device, not a file: take it out of the folder of frames.'

/** How a file ends: `few` zeros are likelier pixels, `many` are likelier a hole. */
export type Zeros = 'none' | 'few' | 'many'

function judge(stat: FileStat, info: FitsInfo, zeros: Zeros): Look {
  if (info.state === 'data cut') {
    const percent = Math.floor((info.fileSize / info.leastLength) * 100)
    const reason = `Only ${percent} % of this file is there: wait until it is written, or shoot the frame again.`
    return { state: 'growing', stat, need: info.leastLength, reason }
  }
  if (info.state !== 'complete')
    return { state: 'growing', stat, need: 0, reason: 'This file ends before its image: wait until it is written.' }
  const settling = (reason: string): Look => ({ state: 'settling', stat, info, zeros, reason })
  if (!info.image) return settling('This FITS file holds no image: take it out of the folder of frames.')
  if (zeros !== 'none')
    return settling('The end of this file holds only zeros: wait until it is written, or shoot the frame again.')
  if (info.fileSize < info.expectedLength)
    return settling('This file ends without the padding that the standard asks for.')
  return { state: 'complete', stat, info }
}

function judgeError(error: unknown, stat: FileStat): Look {
  if (!(error instanceof FitsError)) throw error
  const cause = (error.cause as NodeJS.ErrnoException | undefined)?.code
  if (cause === 'ENOENT' || cause === 'ENOTDIR') return { state: 'gone' }
  const young = error.code === 'empty' || error.code === 'blank' || error.code === 'header-cut'
  if (young) return { state: 'growing', stat, need: 0, reason: error.message }
  return { state: 'unusable', stat, code: error.code, reason: error.message }
}

const TAIL_LENGTH = 512
/** More zero bytes than this at the end are no longer taken for a few dark pixels. */
const FEW = 8
/** A gzipped tile ends in its unpacked length: four bytes, lowest first, never all of them zero (ISIZE, RFC 1952, 2.3.1). */
const GZIP_LENGTH_ZEROS = 3
const tailBytes = Buffer.allocUnsafeSlow(TAIL_LENGTH)

/**
 * A file that got its length before its content reads as zeros where nothing was written yet. A writer that goes from front to
 * back writes the last sample last, so one that is not zero settles it at once; unsigned 16-bit data hold a zero word for
 * the one value 32768 only. A sample of which one byte is written is not looked for: nobody writes half samples, while every
 * sixteenth sample of 12-bit data that were shifted into 16 ends in a zero byte.
 */
function zerosAtEnd(fd: number, info: FitsInfo): Zeros {
  const last = info.units.at(-1)
  if (!last || last.dataLength === 0 || info.fileSize < info.leastLength) return 'none'
  const length = Math.min(TAIL_LENGTH, last.dataLength)
  const got = readSync(fd, tailBytes, 0, length, info.leastLength - length)
  let zeros = 0
  while (zeros < got && tailBytes[got - 1 - zeros] === 0) zeros++
  if (zeros <= (last.compression !== null ? GZIP_LENGTH_ZEROS : Math.abs(last.bitpix) / 8 - 1)) return 'none'
  return zeros <= FEW ? 'few' : 'many'
}
