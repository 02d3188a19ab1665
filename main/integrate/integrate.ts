import { FitsError } from '../fits/error.ts'
import { readFitsInfo } from '../fits/file.ts'
import { scalingOf } from '../fits/samples.ts'
import { statSync } from 'node:fs'
import { createCrew, FileProblem, type Crew } from '../measure/crew.ts'
import { threadScript } from '../measure/thread-script.ts'
import { CONTROL_BYTES, DONE, STOP } from './job.ts'
import type {
  CombineAsk,
  CombinedStrips,
  Figured,
  LookAsk,
  SurveyAsk,
  Surveyed,
  ThreadAnswer,
  ThreadAsk,
} from './job.ts'
import { stripBytes } from './kernels/combiner.ts'
import { checkMethod, type Method } from './method.ts'
import type { MasterDetail } from './detail.ts'
import type { MasterFigures } from './figures.ts'
import type { MasterContent, Written } from './master-file.ts'
import { integerZeroOf } from './strips.ts'

export interface IntegrationAsk {
  paths: string[]
  method: Method
  /** Flats: float32 pixels of the dark-flat master (or null to subtract nothing), each frame then scaled to the frames' common mean. */
  flat?: { dark: SharedArrayBuffer | null }
  /** Also hash every source. */
  hash?: boolean
  /** The master's figures too; a filter array's letters (null for mono) for the channels of a flat. */
  figures?: { cfa: string | null }
  signal?: AbortSignal
  /** Called a few times a second, `done` of `total` units of about equal work. */
  onProgress?(done: number, total: number): void
}

export interface Integration {
  width: number
  height: number
  /** Float32, row by row as stored, ADU; NaN where no frame had a value. */
  pixels: Float32Array
  /** Share of all values that the method left out. */
  leftOutShare: number
  figures: MasterFigures | null
  /** PNG, about 420 pixels wide; with the figures. */
  thumbnail: Uint8Array | null
  /** SHA-256 of each source, in order; null unless asked for. */
  hashes: string[] | null
  /** Flats: each frame's mean after subtraction, ADU, and the common one to which it was scaled. */
  levels: { means: number[]; common: number } | null
}

export interface Integrator {
  /**
   * Rejects with a `FileProblem` that names the frame (unreadable, cut, of another size, changed meanwhile), or the signal's reason.
   * Memory does not grow with the number of frames: strips are cut to fit.
   */
  integrate(ask: IntegrationAsk): Promise<Integration>
  /** `writeMaster` in a thread: syncing and reading again take as long as the disk takes. */
  write(folder: string, name: string, content: MasterContent): Promise<Written>
  /** `hashMaster` in a thread. */
  hash(content: MasterContent, scratch: string): Promise<string>
  /** `look`: the figures and the small picture too. */
  detail(path: string, look?: LookAsk | null): Promise<MasterDetail>
  look(path: string, look: LookAsk, signal?: AbortSignal): Promise<Figured>
  close(): Promise<void>
}

/** WebAssembly memory for one thread's strips. 8 MiB is past the point where longer reads are faster. */
const STRIP_BYTES = 8 << 20
/** Pixels from which noise is measured: the error of a standard deviation is 1/√(2n), 0.1 %. */
const SAMPLE_PIXELS = 400_000

/** @param options `script`: the threads' file where it is not the one beside this (a benchmark of the built program) */
export function createIntegrator(options: { threads?: number; script?: URL } = {}): Integrator {
  const crew = createCrew<ThreadAsk, ThreadAnswer>(
    options.script ?? threadScript(import.meta.url, 'integrate'),
    options.threads,
  )
  return {
    integrate: (ask) => integrate(crew, ask),
    write: (folder, name, content) => crew.ask({ task: 'write', folder, name, content }) as Promise<Written>,
    hash: (content, scratch) => crew.ask({ task: 'hash', content, scratch }) as Promise<string>,
    detail: (path, look = null) => crew.ask({ task: 'detail', path, look }) as Promise<MasterDetail>,
    look: (path, look, signal) => crew.ask({ task: 'look', path, look }, signal) as Promise<Figured>,
    close: () => crew.close(),
  }
}

type IntegrateCrew = Crew<ThreadAsk, ThreadAnswer>

async function integrate(crew: IntegrateCrew, ask: IntegrationAsk): Promise<Integration> {
  const { paths, method } = ask
  checkMethod(method, paths.length)
  const frames = paths.map(examine)
  const { width, height } = sameSize(frames)
  const surveys = ask.flat || ask.hash ? paths.length : 0
  const progress = createProgress(ask, surveys)
  const surveyed = surveys ? await survey(crew, ask, progress) : null
  const levels = ask.flat ? levelsOf(surveyed!) : null
  const job = combineAsk(ask, frames, width, height, levels)
  progress.expect(surveys + Math.ceil(height / job.rowsPerStrip))
  const parts = (await together(crew, job, ask.signal, progress)) as CombinedStrips[]
  frames.forEach(unchanged)
  return {
    width,
    height,
    pixels: new Float32Array(job.out),
    leftOutShare: parts.reduce((sum, p) => sum + p.leftOut, 0) / (width * height * paths.length),
    ...(ask.figures ? await figuresOf(crew, ask, job) : { figures: null, thumbnail: null }),
    hashes: ask.hash ? surveyed!.map((s) => s.sha256!) : null,
    levels,
  }
}

interface Examined {
  path: string
  width: number
  height: number
  integerZero: number | null
  identity: string
}

/** Size, time and place of a file: another one after the work means that it was changed under it. */
function identityOf(path: string): string {
  const { size, mtimeMs, ino } = statSync(path)
  return `${size} ${mtimeMs} ${ino}`
}

function examine(path: string): Examined {
  try {
    const identity = identityOf(path)
    const info = readFitsInfo(path)
    const { image } = info
    if (!image) throw new FitsError('no-image', 'This FITS file holds no image: leave it out.')
    if (image.planes !== 1)
      throw new FitsError(
        'no-image',
        `This image has ${image.planes} colour planes: only raw frames can be integrated.`,
      )
    if (info.state === 'data cut')
      throw new FitsError(
        'data-cut',
        'This file is cut short: copy it again from the camera computer, or leave it out.',
      )
    const scaling = scalingOf(info.header, image.bitpix)
    const { width, height, bitpix } = image
    return { path, width, height, integerZero: integerZeroOf({ bitpix, scaling }), identity }
  } catch (error) {
    throw problemAt(path, error)
  }
}

function problemAt(path: string, error: unknown): unknown {
  if (error instanceof FitsError) return new FileProblem(path, error.code, error.message)
  if (typeof (error as NodeJS.ErrnoException).code === 'string')
    return new FileProblem(
      path,
      'unreadable',
      'This file is not there or cannot be read: check the disk or the connection to it.',
    )
  return error
}

function sameSize(frames: Examined[]): { width: number; height: number } {
  const [first] = frames
  const other = frames.find((f) => f.width !== first.width || f.height !== first.height)
  if (other)
    throw new FileProblem(
      other.path,
      'size',
      `This frame has ${other.width} × ${other.height} pixels, the others ${first.width} × ${first.height}: leave it out.`,
    )
  return first
}

function unchanged(frame: Examined): void {
  let now: string
  try {
    now = identityOf(frame.path)
  } catch (error) {
    throw problemAt(frame.path, error)
  }
  if (now !== frame.identity)
    throw new FileProblem(frame.path, 'changed', 'This file was changed while it was being integrated: build again.')
}

function combineAsk(
  ask: IntegrationAsk,
  frames: Examined[],
  width: number,
  height: number,
  levels: Integration['levels'],
): CombineAsk {
  const [{ integerZero }] = frames
  const integers = !ask.flat && frames.every((f) => f.integerZero !== null && f.integerZero === integerZero)
  const rowBytes = stripBytes(frames.length, width, integers ? 2 : 8)
  const rowsPerStrip = Math.max(1, Math.min(height, Math.floor(STRIP_BYTES / rowBytes)))
  const strips = Math.ceil(height / rowsPerStrip)
  const rows = Math.min(rowsPerStrip, Math.ceil(SAMPLE_PIXELS / (strips * width)))
  const sampleBytes = strips * rows * width * 4
  const sampled = ask.figures !== undefined && frames.length > 1
  return {
    task: 'combine',
    paths: ask.paths,
    scales: levels && levels.means.map((mean) => levels.common / mean),
    method: ask.method,
    width,
    height,
    rowsPerStrip,
    integerZero: integers ? integerZero : null,
    out: new SharedArrayBuffer(width * height * 4),
    dark: ask.flat?.dark ?? null,
    control: new SharedArrayBuffer(CONTROL_BYTES),
    sample: sampled
      ? { rows, halves: new SharedArrayBuffer(sampleBytes), pair: new SharedArrayBuffer(sampleBytes) }
      : null,
  }
}

async function figuresOf(crew: IntegrateCrew, ask: IntegrationAsk, job: CombineAsk): Promise<Figured> {
  const { out, width, height, sample, method } = job
  const request: ThreadAsk = {
    task: 'figures',
    pixels: out,
    width,
    height,
    cfa: ask.figures!.cfa,
    flat: ask.flat !== undefined,
    sample: sample && { halves: sample.halves, pair: sample.pair, frames: ask.paths.length, method },
  }
  return (await crew.ask(request, ask.signal)) as Figured
}

async function survey(crew: IntegrateCrew, ask: IntegrationAsk, progress: Progress): Promise<Surveyed[]> {
  const control = new SharedArrayBuffer(CONTROL_BYTES)
  const request: ThreadAsk = {
    task: 'survey',
    paths: ask.paths,
    control,
    hash: ask.hash === true,
    dark: ask.flat?.dark ?? null,
    mean: ask.flat !== undefined,
  }
  const parts = (await together(crew, request, ask.signal, progress)) as Surveyed[][]
  return parts.flat().sort((a, b) => a.frame - b.frame)
}

function levelsOf(surveyed: Surveyed[]): { means: number[]; common: number } {
  const means = surveyed.map((s) => s.mean!)
  return { means, common: means.reduce((a, b) => a + b, 0) / means.length }
}

/** Puts every thread on one request with shared control; the first failure stops the others at their next strip. */
async function together(
  crew: IntegrateCrew,
  request: SurveyAsk | CombineAsk,
  signal: AbortSignal | undefined,
  progress: Progress,
) {
  const control = new Int32Array(request.control)
  const stopWatching = progress.watch(control)
  const stop = () => Atomics.store(control, STOP, 1)
  const work = Array.from({ length: crew.size }, () =>
    crew.ask(request, signal).catch((error) => {
      stop()
      throw error
    }),
  )
  try {
    return await Promise.all(work)
  } finally {
    await Promise.allSettled(work)
    stopWatching()
  }
}

interface Progress {
  expect(total: number): void
  watch(control: Int32Array): () => void
}

function createProgress(ask: IntegrationAsk, surveys: number): Progress {
  let total = surveys * 2
  let before = 0
  return {
    expect: (all) => (total = all),
    watch(control) {
      const tell = () => ask.onProgress?.(before + Atomics.load(control, DONE), total)
      const timer = setInterval(tell, 150)
      return () => {
        clearInterval(timer)
        tell()
        before += Atomics.load(control, DONE)
      }
    },
  }
}
