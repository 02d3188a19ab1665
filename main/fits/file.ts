import { closeSync, constants, fstatSync, openSync, readSync } from 'node:fs'
import { asFitsError, FitsError } from './error.ts'
import { BLOCK_LENGTH, findEnd, Header } from './header.ts'
import { inherit, uncompressedHeader } from './merge.ts'
import { imageShape, padded, unitShape, type ImageShape, type UnitShape } from './structure.ts'

/** One header-and-data unit and where it lies in the file, bytes. */
export interface FitsUnit extends UnitShape {
  header: Header
  offset: number
  dataOffset: number
}

/** What can be told of a FITS file from its headers. No pixel is touched for it. */
export interface FitsInfo {
  /** Bytes, and the time of the last change, from the open file itself. */
  fileSize: number
  mtimeMs: number
  units: FitsUnit[]
  /** The first unit with an image in it, null where there is none (yet). */
  imageUnit: FitsUnit | null
  image: ImageShape | null
  /** ZCMPTYPE of a tile-compressed image (RICE_1, GZIP_2, …), null for a plain one. */
  imageCompression: string | null
  /** The image's header as if it were alone and uncompressed; without an image, the primary header. */
  header: Header
  /** Raw bytes of the primary header and, where it is another, the image's header: what a header hash is made of. */
  headerBytes: Uint8Array
  /** Bytes that the file has when all units that its headers announce are there, padded to whole blocks. */
  expectedLength: number
  /** The same with the last unit's padding left off: all data are there from here on. */
  leastLength: number
  /**
   * - `complete` everything announced is there
   * - `data cut` the file is shorter than `leastLength`
   * - `header cut` an extension's header has no END yet
   * - `extension awaited` a primary header without data announces extensions, and none is there yet
   */
  state: 'complete' | 'data cut' | 'header cut' | 'extension awaited'
}

/** 50 000 cards: the bound keeps a file without END from being read as a header to its own end. */
const MAX_HEADER_LENGTH = 1389 * BLOCK_LENGTH
const FIRST_READ = 4 * BLOCK_LENGTH
/** More units than any camera writes; a hostile chain of empty ones stops here. */
const MAX_UNITS = 1000
/** Opening a pipe would wait for its writer without this. */
const OPEN_FLAGS = constants.O_RDONLY | (constants.O_NONBLOCK ?? 0)

const firstBytes = Buffer.allocUnsafeSlow(FIRST_READ)

/**
 * Reads the headers of a FITS file, and only them: typically one open and one read.
 * @param file a path, or a descriptor that stays open and the caller's
 * @throws FitsError for whatever is wrong with the file
 */
export function readFitsInfo(file: string | number): FitsInfo {
  if (typeof file === 'number') return guarded(() => readFrom(file))
  const fd = openForReading(file)
  try {
    return guarded(() => readFrom(fd))
  } finally {
    closeSync(fd)
  }
}

/** Opens a regular file for reading; folders, pipes and devices are refused. */
export function openForReading(path: string): number {
  return guarded(() => openSync(path, OPEN_FLAGS))
}

function guarded<T>(read: () => T): T {
  try {
    return read()
  } catch (error) {
    throw asFitsError(error)
  }
}

function readFrom(fd: number): FitsInfo {
  const stat = fstatSync(fd)
  if (stat.isDirectory())
    throw new FitsError(
      'unreadable',
      'This is a folder with the name of a FITS file: rename it, or look inside it for the frames.',
    )
  if (!stat.isFile())
    throw new FitsError('unreadable', 'This is a pipe or a device, not a file: take it out of the folder of frames.')
  const { size } = stat
  const primary = readUnit(fd, 0, size)
  const walk = followUnits(fd, size, primary)
  const { units, image, imageUnit } = walk
  const own = imageUnit?.unit
  const header = !own ? primary.unit.header : own.compression !== null ? uncompressedHeader(own.header) : own.header
  return {
    fileSize: size,
    mtimeMs: stat.mtimeMs,
    units,
    imageUnit: own ?? null,
    image,
    imageCompression: own?.compression ?? null,
    header: own && own !== primary.unit ? inherit(header, primary.unit.header) : header,
    headerBytes: imageUnit && imageUnit !== primary ? Buffer.concat([primary.bytes, imageUnit.bytes]) : primary.bytes,
    ...lengths(walk, size),
  }
}

interface ReadUnit {
  unit: FitsUnit
  /** The header's own bytes, blocks and all. */
  bytes: Buffer
}

interface Walk {
  units: FitsUnit[]
  image: ImageShape | null
  imageUnit: ReadUnit | null
  headerCut: boolean
}

/** Goes from unit to unit as far as the file reaches. */
function followUnits(fd: number, size: number, primary: ReadUnit): Walk {
  const walk: Walk = { units: [], image: null, imageUnit: null, headerCut: false }
  let current: ReadUnit | null = primary
  while (current) {
    const { unit }: ReadUnit = current
    walk.units.push(unit)
    if (!walk.image) {
      walk.image = imageShape(unit.header, unit)
      if (walk.image) walk.imageUnit = current
    }
    const next: number = unit.dataOffset + padded(unit.dataLength)
    current = next < size && walk.units.length < MAX_UNITS ? readExtension(fd, next, size, walk) : null
  }
  return walk
}

/** The extension at `offset`; null where what follows is no extension (special records, stray bytes: they are left alone). */
function readExtension(fd: number, offset: number, size: number, walk: Walk): ReadUnit | null {
  try {
    return readUnit(fd, offset, size)
  } catch (error) {
    if (!(error instanceof FitsError)) throw error
    if (error.code === 'header-cut') walk.headerCut = true
    else if (error.code !== 'not-fits' && error.code !== 'blank' && !walk.image) throw error
    return null
  }
}

function lengths(walk: Walk, size: number): Pick<FitsInfo, 'expectedLength' | 'leastLength' | 'state'> {
  const last = walk.units.at(-1)!
  const leastLength = last.dataOffset + last.dataLength
  const expectedLength = last.dataOffset + padded(last.dataLength)
  const awaited = walk.units.length === 1 && !walk.image && last.header.logical('EXTEND') === true
  const state = walk.headerCut
    ? 'header cut'
    : size < leastLength
      ? 'data cut'
      : awaited && size <= expectedLength
        ? 'extension awaited'
        : 'complete'
  return { expectedLength, leastLength, state }
}

/** Reads one header, block by block until its END. */
function readUnit(fd: number, offset: number, size: number): ReadUnit {
  const most = Math.min(size - offset, MAX_HEADER_LENGTH)
  let buffer = firstBytes
  let have = fill(fd, buffer, 0, Math.min(most, buffer.length), offset)
  checkStart(buffer, have, offset === 0)
  let from = 0
  for (;;) {
    const end = findEnd(buffer, from, have)
    if (end >= 0) return unitFrom(buffer, end, Math.min(padded(end + 1), have), offset)
    if (have >= most || have < buffer.length) throw withoutEnd(have < MAX_HEADER_LENGTH)
    from = have - (have % 80)
    const larger = Buffer.allocUnsafe(Math.min(buffer.length * 4, padded(most)))
    buffer.copy(larger, 0, 0, have)
    have = fill(fd, larger, have, Math.min(most, larger.length), offset)
    buffer = larger
  }
}

function unitFrom(buffer: Buffer, end: number, length: number, offset: number): ReadUnit {
  const header = Header.ofText(buffer.toString('latin1', 0, end))
  return {
    unit: { ...unitShape(header), header, offset, dataOffset: offset + padded(end + 1) },
    bytes: Buffer.copyBytesFrom(buffer, 0, length),
  }
}

/** Reads until `to` bytes are in `buffer` or the file ends; returns how many are. */
function fill(fd: number, buffer: Buffer, have: number, to: number, offset: number): number {
  while (have < to) {
    const got = readSync(fd, buffer, have, to - have, offset + have)
    if (got === 0) break
    have += got
  }
  return have
}

const SIMPLE = 'SIMPLE  ='
const XTENSION = 'XTENSION='

function checkStart(buffer: Buffer, have: number, primary: boolean): void {
  const start = buffer.toString('latin1', 0, Math.min(have, 9))
  const wanted = primary ? SIMPLE : XTENSION
  if (start === wanted) return
  if (have === 0)
    throw new FitsError(
      'empty',
      'This file is empty: wait until it is written, or copy it again from the camera computer.',
    )
  if (buffer.subarray(0, Math.min(have, BLOCK_LENGTH)).every((byte) => byte === 0))
    throw new FitsError(
      'blank',
      'This file holds only zeros where its header should be: wait until it is written, or copy it again from the camera computer.',
    )
  if (have < 9 && wanted.startsWith(start)) throw withoutEnd(true)
  if (buffer[0] === 0x1f && buffer[1] === 0x8b)
    throw new FitsError('not-fits', 'This file is packed as a whole with gzip: unpack it first.')
  throw new FitsError(
    'not-fits',
    'This is no FITS file, whatever its name says: look what it is, or copy it again from the camera computer.',
  )
}

function withoutEnd(fileEnds: boolean): FitsError {
  return new FitsError(
    'header-cut',
    fileEnds
      ? 'This file ends before its header does: copy it again from the camera computer.'
      : 'This file has no end of its header: copy it again from the camera computer.',
  )
}
