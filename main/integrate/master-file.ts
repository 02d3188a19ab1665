import { closeSync, existsSync, fsyncSync, mkdirSync, openSync, readSync, renameSync, rmSync } from 'node:fs'
import { createHash } from 'node:crypto'
import { join } from 'node:path'
import type { LightSource, MasterKind, Settings } from '../contract/index.ts'
import { Refusal } from '../contract/refusal.ts'
import { openFitsWriter, openImage, type Header, type NewCard, type NewTable } from '../fits/index.ts'
import { describeMethod, type Method } from './method.ts'
import { numbered } from './name.ts'

export interface MasterSource {
  /** Name of the file, without its folder. */
  name: string
  sha256: string
  startedAt: string | null
  /** Flats: the factor to the common mean; null otherwise. */
  scale: number | null
  /** Why it was left out; null where it went in. */
  leftOut: string | null
}

export interface MasterContent {
  kind: MasterKind
  /** Of the group: the first frame's, with the median sensor temperature (and, for flats, exposure). */
  settings: Settings
  pixels: Float32Array
  width: number
  height: number
  method: Method
  sources: MasterSource[]
  /** When the first frame began, and the last one. UTC. */
  firstAt: string | null
  lastAt: string | null
  subtracted: 'none' | 'bias' | 'darkFlat'
  /** SHA-256 of the master that was subtracted. */
  subtractedSha256: string | null
  electronsPerAdu: number | null
  pixelUm: number | null
  /** Flats: what lit them; null where nobody said. */
  lightSource?: LightSource | null | undefined
  /** When the file is made; UTC. */
  madeAt: string
  program: string
}

export interface Written {
  path: string
  size: number
  sha256: string
}

const IMAGE_TYPES: Record<MasterKind, string> = { dark: 'DARK', darkFlat: 'DARKFLAT', flat: 'FLAT', bias: 'BIAS' }

/**
 * Writes a master beside others: a temporary file, synced, renamed, the folder synced, read again and compared. Whatever fails, there is
 * no half file under its name, and none left over.
 * @param folder made if it is not there
 * @returns where it stands now, its length and SHA-256
 * @throws Refusal where the disk is full, the folder is read-only, or what was written does not read back the same
 */
export function writeMaster(folder: string, name: string, content: MasterContent): Written {
  const temporary = join(folder, `.${process.pid}-${Math.random().toString(36).slice(2, 10)}.part`)
  try {
    mkdirSync(folder, { recursive: true })
    const fd = openSync(temporary, 'wx')
    try {
      const writer = openFitsWriter(fd, fileOf(content))
      writer.writeRows(content.pixels)
      writer.finish()
      fsyncSync(fd)
    } finally {
      closeSync(fd)
    }
    compare(temporary, content)
    const { sha256, size } = hashFile(temporary)
    const path = freeName(folder, name)
    renameSync(temporary, path)
    syncFolder(folder)
    return { path, size, sha256 }
  } catch (error) {
    discard(temporary)
    throw asRefusal(error, folder)
  }
}

/** The SHA-256 that this content has as a file: what a rebuild is held against, with the old file's `madeAt`. */
export function hashMaster(content: MasterContent, scratch: string): string {
  const fd = openSync(scratch, 'wx')
  try {
    const writer = openFitsWriter(fd, fileOf(content))
    writer.writeRows(content.pixels)
    writer.finish()
  } finally {
    closeSync(fd)
  }
  try {
    return hashFile(scratch).sha256
  } finally {
    rmSync(scratch, { force: true })
  }
}

function fileOf(content: MasterContent) {
  const { width, height } = content
  return { width, height, bitpix: -32 as const, cards: cardsOf(content), extensions: [sourceTable(content.sources)] }
}

function cardsOf(content: MasterContent): NewCard[] {
  const { kind, settings: s, method, sources } = content
  const used = sources.filter((source) => source.leftOut === null)
  const [binX, binY] = (s.binning ?? '').split('x').map(Number)
  const known = (
    keyword: string,
    value: string | number | null | undefined,
    comment: string,
    real = false,
  ): NewCard[] =>
    value === null || value === undefined || Number.isNaN(value) ? [] : [{ keyword, value, comment, real }]
  return [
    { keyword: 'DATE', value: stamp(content.madeAt), comment: 'when this file was made, UTC' },
    { keyword: 'IMAGETYP', value: IMAGE_TYPES[kind], comment: 'kind of the frames' },
    { keyword: 'NCOMBINE', value: used.length, comment: 'frames integrated' },
    { keyword: 'BUNIT', value: 'adu' },
    ...known('DATE-OBS', content.firstAt && stamp(content.firstAt), 'start of the first frame, UTC'),
    ...known('DATE-END', content.lastAt && stamp(content.lastAt), 'start of the last frame, UTC'),
    ...known('EXPTIME', s.exposureS, '[s] of one frame', true),
    ...known('INSTRUME', s.camera, 'camera'),
    ...known('SERIALNO', s.body, 'camera body'),
    ...known('GAIN', s.gain, 'gain setting'),
    ...known('OFFSET', s.offset, 'offset setting'),
    ...known('EGAIN', content.electronsPerAdu, '[e-/adu]', true),
    ...known('SET-TEMP', s.setTempC, '[deg C] set point', true),
    ...known('CCD-TEMP', s.sensorTempC, '[deg C] sensor, median of the frames', true),
    ...known('XBINNING', binX || null, ''),
    ...known('YBINNING', binY || null, ''),
    ...known('XORGSUBF', s.originX, 'subframe origin, binned pixels'),
    ...known('YORGSUBF', s.originY, 'subframe origin, binned pixels'),
    ...known('XPIXSZ', content.pixelUm, '[um] after binning', true),
    ...known('READOUTM', s.readout, 'readout mode'),
    ...known('FILTER', s.filter, ''),
    ...known('TELESCOP', s.telescope, ''),
    ...known('FOCALLEN', s.focalMm, '[mm]', true),
    ...known('ROTATANG', s.mechAngleDeg, '[deg] rotator', true),
    ...known('BAYERPAT', s.cfa, 'from the first stored pixel'),
    // The letters of BAYERPAT describe the stored rows here, whatever the frames said.
    ...known('ROWORDER', s.cfa === null ? s.rowOrder : 'TOP-DOWN', ''),
    { keyword: 'SWCREATE', value: content.program },
    ...methodCards(method),
    { keyword: 'SUBTRACT', value: content.subtracted, comment: 'taken off each frame before integration' },
    ...known('SUBTRSHA', content.subtractedSha256, ''),
    ...known('LIGHTSRC', content.lightSource, 'what lit the flats'),
    ...historyOf(method, sources.length - used.length).map((value) => ({ keyword: 'HISTORY', value })),
  ]
}

/** The method in a form that a rebuild can read again. */
function methodCards(method: Method): NewCard[] {
  const { name, ...limits } = method as Method & Record<string, unknown>
  const card = (keyword: string, value: unknown, comment: string): NewCard[] =>
    typeof value === 'number' ? [{ keyword, value, comment, real: !Number.isInteger(value) }] : []
  return [
    { keyword: 'METHOD', value: name, comment: 'how the frames were integrated' },
    ...card('CLIPLOW', limits.low, 'limit below the median, sigma or frames'),
    ...card('CLIPHIGH', limits.high, 'limit above the median, sigma or frames'),
    ...card('CLIPRND', limits.rounds, 'most rounds'),
    ...card('CLIPLEST', limits.leastSigma, '[adu] least sigma'),
  ]
}

/** The method that a master's header states; null where it states none. */
export function readMethod(header: Header): Method | null {
  const name = header.text('METHOD')
  const number = (keyword: string) => header.number(keyword) ?? 0
  const limits = { low: number('CLIPLOW'), high: number('CLIPHIGH') }
  if (name === 'mean' || name === 'median') return { name }
  if (name === 'minMax') return { name, ...limits }
  if (name === 'sigmaClip') return { name, ...limits, rounds: number('CLIPRND') }
  if (name === 'madClip') return { name, ...limits, rounds: number('CLIPRND'), leastSigma: number('CLIPLEST') }
  return null
}

function historyOf(method: Method, leftOut: number): string[] {
  const also = leftOut ? `, with ${leftOut} that ${leftOut === 1 ? 'was' : 'were'} left out` : ''
  return [
    ...wrap(`Integrated: ${describeMethod(method)}.`),
    ...wrap(`The frames that made it stand in the table extension SOURCES with their SHA-256${also}.`),
  ]
}

/** HISTORY has room for 70 characters and a margin; words are not cut. */
function wrap(text: string): string[] {
  return text.match(/.{1,70}(?: |$)/g)!.map((line) => line.trimEnd())
}

function sourceTable(sources: MasterSource[]): NewTable {
  return {
    name: 'SOURCES',
    columns: [
      { name: 'NAME', type: 'text', values: sources.map((s) => s.name) },
      { name: 'SHA256', type: 'text', values: sources.map((s) => s.sha256) },
      { name: 'STARTED', type: 'text', values: sources.map((s) => (s.startedAt ? stamp(s.startedAt) : '')) },
      { name: 'SCALE', type: 'float64', values: sources.map((s) => s.scale ?? 1) },
      { name: 'LEFTOUT', type: 'text', values: sources.map((s) => s.leftOut ?? '') },
    ],
  }
}

/** ISO 8601 as FITS has it: UTC without a zone letter (standard 4.0, 4.4.2.1). */
function stamp(at: string): string {
  return at.replace(/Z$/, '')
}

/** Reads the written file back through the reader that everything else uses, and holds every pixel against memory. */
function compare(path: string, { pixels, width, height }: MasterContent): void {
  using image = openImage(path)
  const rows = Math.max(1, Math.min(height, Math.floor((1 << 18) / width)))
  const read = new Float32Array(rows * width)
  const same = image.width === width && image.height === height
  for (let y = 0; same && y < height; y += rows) {
    const count = Math.min(rows, height - y)
    image.readRows(y, count, read)
    const written = Buffer.from(pixels.buffer, pixels.byteOffset + y * width * 4, count * width * 4)
    if (Buffer.compare(written, Buffer.from(read.buffer, 0, count * width * 4)) !== 0) throw unlike()
  }
  if (!same) throw unlike()
}

function unlike(): Refusal {
  return new Refusal(
    'What was written does not read back the same: check the disk that the masters are on, then build again.',
  )
}

function hashFile(path: string): { sha256: string; size: number } {
  const hash = createHash('sha256')
  const chunk = Buffer.allocUnsafe(1 << 20)
  const fd = openSync(path, 'r')
  let size = 0
  try {
    for (let got = readSync(fd, chunk); got > 0; got = readSync(fd, chunk)) {
      hash.update(chunk.subarray(0, got))
      size += got
    }
  } finally {
    closeSync(fd)
  }
  return { sha256: hash.digest('hex'), size }
}

function freeName(folder: string, name: string): string {
  for (let n = 1; ; n++) {
    const path = join(folder, numbered(name, n))
    if (!existsSync(path)) return path
  }
}

/** The rename is safe on disk when its folder is; Windows has no such call and needs none. */
function syncFolder(path: string): void {
  if (process.platform === 'win32') return
  const fd = openSync(path, 'r')
  try {
    fsyncSync(fd)
  } finally {
    closeSync(fd)
  }
}

/** What stands in the way of removing it is what stood in the way of writing it, and is told as that. */
function discard(path: string): void {
  try {
    rmSync(path, { force: true })
  } catch {
    return
  }
}

const SENTENCES: Record<string, string> = {
  ENOSPC: 'The disk is full: make room in {folder}, then build again.',
  EDQUOT: 'The disk quota is used up: make room in {folder}, then build again.',
  EROFS: 'The disk of {folder} is read-only: choose another folder for the masters.',
  EACCES:
    'Nothing may be written into {folder}: give your account the right to, or choose another folder for the masters.',
  EPERM:
    'Nothing may be written into {folder}: give your account the right to, or choose another folder for the masters.',
}

function asRefusal(error: unknown, folder: string): unknown {
  const code = (error as NodeJS.ErrnoException).code
  if (error instanceof Refusal || typeof code !== 'string') return error
  const sentence =
    SENTENCES[code] ?? 'The master cannot be written into {folder} ({code}): check the disk or the connection to it.'
  return new Refusal(sentence.replace('{folder}', folder).replace('{code}', code), { cause: error })
}
