import { readSync } from 'node:fs'
import { FitsError } from './error.ts'
import type { FitsUnit } from './file.ts'
import type { StoredRows } from './image.ts'
import { bytesPerSample } from './samples.ts'
import type { ImageShape } from './structure.ts'
import { fallbackCodecs, tileCodec, type TileCodec } from './tile-codec.ts'
import { badTable, badTile, TileTable, type TileColumn } from './tile-table.ts'

/** How an image of any number of axes is cut: tiles at the far edges are smaller. */
interface Grid {
  axes: number[]
  tile: number[]
  /** Tiles along each axis. */
  counts: number[]
}

/** One decoded tile, kept until another of the same column of tiles is asked for. */
interface Slot {
  tile: number
  pixels: Buffer
}

/**
 * Reads rows of a tile-compressed image (standard 4.0, section 10). Only the tiles that cover the rows are decoded; one
 * band of them is kept, so that reading in strips decodes each tile once.
 * @throws FitsError `compression`, `header-bad`, `data-cut`, `size-impossible`, before anything is allocated
 */
export function openTiles(fd: number, fileSize: number, unit: FitsUnit, image: ImageShape): StoredRows {
  const codec = tileCodec(unit.header, image.bitpix)
  const table = new TileTable(unit, fileSize, (offset, length) => readExactly(fd, offset, length))
  const grid = gridOf(unit, image)
  const tiles = grid.counts.reduce((a, b) => a * b, 1)
  if (table.rowCount < tiles) throw badTable()
  refuseMasks(unit, table)
  const size = bytesPerSample(image.bitpix)
  const pixelBytes = image.width * image.height * image.planes * size
  if (pixelBytes > mostFrom(codec, table, unit.dataLength))
    throw new FitsError(
      'size-impossible',
      'The header claims a larger image than its compressed data can hold: copy this file again from where it was packed.',
    )
  const read = tileReader(fd, table, codec, image)
  const slots: (Slot | undefined)[] = new Array(Math.min(grid.counts[0], tiles))
  return (y0, rowCount, out) => {
    for (let row = 0; row < rowCount; row++) copyRow(grid, y0 + row, size, out, row * image.width * size, slots, read)
  }
}

function mostFrom(codec: TileCodec, table: TileTable, dataLength: number): number {
  const gzip = table.has('GZIP_COMPRESSED_DATA') ? fallbackCodecs(8).gzip.most(dataLength) : 0
  return Math.max(codec.most(dataLength), gzip)
}

function gridOf(unit: FitsUnit, image: ImageShape): Grid {
  const tile = image.axes.map((axis, i) => {
    const length = unit.header.number(`ZTILE${i + 1}`) ?? (i === 0 ? axis : 1)
    if (!Number.isInteger(length) || length < 1) throw badTable()
    return Math.min(length, axis)
  })
  return { axes: image.axes, tile, counts: image.axes.map((axis, i) => Math.ceil(axis / tile[i])) }
}

/** Pixels undefined by other means than BLANK would come out as numbers that were never measured. */
function refuseMasks(unit: FitsUnit, table: TileTable): void {
  const { header } = unit
  const blank = header.number('BLANK') ?? header.number('ZBLANK')
  let differs = false
  if (table.has('ZBLANK') && (header.number('ZBITPIX') ?? 0) > 0)
    for (let row = 0; row < table.rowCount && !differs; row++) differs = table.integer(row, 'ZBLANK') !== blank
  if (differs || table.has('NULL_PIXEL_MASK') || header.has('ZMASKCMP'))
    throw new FitsError(
      'compression',
      'This compressed image marks undefined pixels tile by tile, which is not read here: unpack it with a FITS tool.',
    )
}

type ReadTile = (tile: number, pixels: number, slot: Slot | undefined) => Slot

function copyRow(
  grid: Grid,
  y: number,
  size: number,
  out: Buffer,
  to: number,
  slots: (Slot | undefined)[],
  read: ReadTile,
): void {
  // The row's place on the second and further axes says which band of tiles it crosses, and which of their rows it is.
  let rest = y
  let band = 0
  let rowInTile = 0
  let rowsOfTile = 1
  for (let axis = 1, tiles = 1; axis < grid.axes.length; axis++) {
    const at = rest % grid.axes[axis]
    rest = Math.floor(rest / grid.axes[axis])
    const index = Math.floor(at / grid.tile[axis])
    band += index * tiles
    tiles *= grid.counts[axis]
    rowInTile += (at - index * grid.tile[axis]) * rowsOfTile
    rowsOfTile *= Math.min(grid.tile[axis], grid.axes[axis] - index * grid.tile[axis])
  }
  const [width] = grid.axes
  const [tileWidth] = grid.tile
  const across = grid.counts[0]
  for (let x = 0; x < across; x++) {
    const columns = Math.min(tileWidth, width - x * tileWidth)
    const tile = band * across + x
    let slot = slots[x]
    if (slot?.tile !== tile) slots[x] = slot = read(tile, columns * rowsOfTile, slot)
    const from = rowInTile * columns * size
    slot!.pixels.copy(out, to + x * tileWidth * size, from, from + columns * size)
  }
}

function tileReader(fd: number, table: TileTable, codec: TileCodec, image: ImageShape): ReadTile {
  const size = bytesPerSample(image.bitpix)
  const fallback = fallbackCodecs(image.bitpix)
  const sources: [TileColumn, TileCodec][] = [
    ['COMPRESSED_DATA', codec],
    ['GZIP_COMPRESSED_DATA', fallback.gzip],
    ['UNCOMPRESSED_DATA', fallback.raw],
  ]
  let packed = Buffer.alloc(0)
  return (tile, pixels, slot) => {
    for (const [column, { decode, most }] of sources) {
      const stretch = table.stretch(tile, column)
      if (!stretch) continue
      const length = pixels * size
      if (length > most(stretch.length)) throw badTile(tile)
      if (packed.length < stretch.length) packed = Buffer.allocUnsafeSlow(stretch.length)
      readInto(fd, packed, stretch.offset, stretch.length)
      const whole = slot && slot.pixels.length === length ? slot.pixels : Buffer.allocUnsafeSlow(length)
      // A tile that fails must not leave a half-overwritten one in the cache.
      if (slot) slot.tile = -1
      if (!decode(packed.subarray(0, stretch.length), pixels, whole)) throw badTile(tile)
      return { tile, pixels: whole }
    }
    throw badTile(tile)
  }
}

function readExactly(fd: number, offset: number, length: number): Buffer {
  const bytes = Buffer.allocUnsafeSlow(length)
  readInto(fd, bytes, offset, length)
  return bytes
}

function readInto(fd: number, bytes: Buffer, offset: number, length: number): void {
  for (let have = 0; have < length;) {
    const got = readSync(fd, bytes, have, length - have, offset + have)
    if (got === 0)
      throw new FitsError(
        'data-cut',
        'This file became shorter while it was read: copy it again from the camera computer.',
      )
    have += got
  }
}
