import {
  closeSync,
  existsSync,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
  utimesSync,
} from 'node:fs'
import { dirname, join } from 'node:path'
import { setImmediate as breathe } from 'node:timers/promises'
import { openImage, type ImageReader } from '../../fits/image.ts'
import { describingCards, openFitsWriter, type NewCard, type NewImage, type WritableSamples } from '../../fits/write.ts'
import type { Core } from '../core.ts'

/** Plain copies that are kept; the one that was not asked for longest goes first. */
const KEPT = 8
/** Rows that are decoded before the event loop has its turn: about 10 ms. */
const STRIP = 64

const pending = new Map<string, Promise<string>>()

/**
 * A plain copy of a tile-compressed image in the cache folder, for readers that know no tiles. Unsigned 16-bit pixels stay
 * as they are, all others become float32. Made once; asked for twice at a time, it is made once all the same.
 * @throws FitsError for a file that does not decode
 */
export function plainCopy(core: Core, of: 'frame' | 'master', id: number, from: string): Promise<string> {
  const { mtimeMs, size } = statSync(from)
  const path = join(core.dataDir, 'cache', `${of}-${id}-${Math.round(mtimeMs)}-${size}.fits`)
  let making = pending.get(path)
  if (!making) {
    making = make(path, from).finally(() => pending.delete(path))
    pending.set(path, making)
  }
  return making
}

async function make(path: string, from: string): Promise<string> {
  const now = Date.now() / 1000
  if (existsSync(path)) utimesSync(path, now, now)
  else {
    mkdirSync(dirname(path), { recursive: true })
    const unfinished = `${path}.unfinished`
    try {
      await write(unfinished, from)
      renameSync(unfinished, path)
    } finally {
      rmSync(unfinished, { force: true })
    }
    dropOldest(dirname(path))
  }
  return path
}

async function write(to: string, from: string): Promise<void> {
  const image = openImage(from)
  const fd = openSync(to, 'w')
  try {
    const strip = samplesFor(image)
    const writer = openFitsWriter(fd, {
      ...shapeOf(image),
      cards: describingCards(image.header.cards as readonly NewCard[]),
      checksum: false,
    })
    for (let y = 0; y < image.rows; y += STRIP) {
      const rows = Math.min(STRIP, image.rows - y)
      const part = strip.subarray(0, rows * image.width)
      image.readRows(y, rows, part)
      writer.writeRows(part)
      await breathe()
    }
    writer.finish()
  } finally {
    closeSync(fd)
    image.close()
  }
}

/** Float32 holds physical values: whatever scale the stored numbers have, the copy says the same. */
const shapeOf = ({ width, height, planes, unsigned16 }: ImageReader): Omit<NewImage, 'cards'> => ({
  width,
  height,
  planes,
  ...(unsigned16 ? { bitpix: 16, unsigned: true } : { bitpix: -32 }),
})

const samplesFor = ({ width, unsigned16 }: ImageReader): WritableSamples & (Uint16Array | Float32Array) =>
  unsigned16 ? new Uint16Array(STRIP * width) : new Float32Array(STRIP * width)

function dropOldest(folder: string): void {
  const copies = readdirSync(folder)
    .filter((name) => name.endsWith('.fits'))
    .map((name) => ({ path: join(folder, name), mtimeMs: statSync(join(folder, name)).mtimeMs }))
    .sort((a, b) => b.mtimeMs - a.mtimeMs)
  for (const { path } of copies.slice(KEPT)) rmSync(path, { force: true })
}
