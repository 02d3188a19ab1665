import { dirname, join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { writeWhole } from './file-writer.ts'
import { assureRoom, claimFolder, foldersOf, makeFolder, type DemoFolders } from './folder.ts'
import { encodeFrame, encodeMaster, isThere } from './frame-file.ts'
import { shelf, takenAtMs } from './library.ts'
import { planNight, type PlannedFrame } from './plan.ts'
import { Studio } from './studio.ts'
import { truthOf, type NightIdentity } from './truth-file.ts'

export interface NightOptions {
  /** The date on which the night begins, like 2026-11-20. */
  night: string
  seed: number
  width: number
  height: number
  /** Frames land at the night's own pace, this many times faster (60: a minute of night a second); null: all at once. */
  speed: number | null
}

/** An eighth of the simulated camera's width: files small enough to be written and read in a blink. */
export const defaultSize = { width: 518, height: 352 }

export interface NightWritten {
  /** The folder that a camera would have filled. */
  dir: string
  /** Masters from earlier nights. */
  library: string
  /** Frames in the capture folder. */
  frames: number
  truth: string
}

export interface FrameWritten {
  frame: PlannedFrame
  path: string
  /** It was there already, from an earlier call. */
  already: boolean
  total: number
}

/** Longest time that a file written in place is half there, by the real clock. */
const SLOW_WRITE_MS = 400

/**
 * Writes a simulated night as capture software would, a library of masters from earlier nights beside it, and the ground
 * truth. Everything lies below `dir`. Called again with the same options it writes only what is missing.
 * @throws Refusal where the folder holds anything else, or has no room; the signal's reason where it was stopped, which
 *   leaves whole files only
 */
export async function writeNight(
  dir: string,
  options: NightOptions,
  signal: AbortSignal = new AbortController().signal,
  onFrame: (written: FrameWritten) => void = () => {},
): Promise<NightWritten> {
  const { night, seed, width, height } = options
  const identity: NightIdentity = { night, seed, width, height }
  const folders = foldersOf(dir)
  const plan = planNight(night, seed)
  claimFolder(folders, identity)
  const missing = plan.filter((frame) => !isThere(join(folders.capture, frame.path), frame.writtenFraction))
  assureRoom(folders.root, missing.length * 2.02 * width * height + shelf.length * 4 * width * height)
  const truth = new TextEncoder().encode(JSON.stringify(truthOf(identity, plan), null, 1) + '\n')
  await writeWhole(folders.truth, truth, { manner: 'renamed', lastsMs: 0, modifiedAtMs: null, signal })

  const studio = new Studio({ width, height }, seed)
  await writeLibrary(folders, studio, night, signal)
  await writeFrames({ folders, plan, missing: new Set(missing), studio, speed: options.speed, signal, onFrame })
  return { dir: folders.capture, library: folders.library, frames: plan.length, truth: folders.truth }
}

async function writeLibrary(folders: DemoFolders, studio: Studio, night: string, signal: AbortSignal): Promise<void> {
  makeFolder(folders.root, folders.library)
  const { width, height } = studio.sensor
  const half = { width: 2 * Math.floor(width / 4), height: 2 * Math.floor(height / 4) }
  for (const master of shelf) {
    const path = join(folders.library, master.file)
    if (isThere(path, null)) continue
    const bytes = encodeMaster(master.binning ? new Studio(half, studio.seed) : studio, master, night)
    const modifiedAtMs = takenAtMs(master, night) + 86_400_000 / 2
    await writeWhole(path, bytes, { manner: 'renamed', lastsMs: 0, modifiedAtMs, signal })
  }
}

interface Writing {
  folders: DemoFolders
  plan: PlannedFrame[]
  missing: Set<PlannedFrame>
  studio: Studio
  speed: number | null
  signal: AbortSignal
  onFrame: (written: FrameWritten) => void
}

async function writeFrames({ folders, plan, missing, studio, speed, signal, onFrame }: Writing): Promise<void> {
  const [first] = missing
  const dueAt = first && speed ? nightClock(first.startedAtMs, performance.now(), speed) : null
  makeFolder(folders.root, folders.capture)
  for (const frame of plan) {
    signal.throwIfAborted()
    const path = join(folders.capture, frame.path)
    if (missing.has(frame)) {
      makeFolder(folders.root, dirname(path))
      const bytes = encodeFrame(studio, frame)
      if (dueAt) await wait(Math.max(0, dueAt(frame.savedAtMs) - performance.now()), undefined, { signal })
      await writeWhole(path, bytes, {
        manner: mannerOf(frame),
        lastsMs: speed ? Math.min(SLOW_WRITE_MS, (frame.exposureS * 500) / speed) : 0,
        modifiedAtMs: speed ? null : frame.savedAtMs,
        signal,
      })
    }
    onFrame({ frame, path, already: !missing.has(frame), total: plan.length })
  }
}

/** Lights appear whole; calibration and focus frames grow where they stand. Both habits are met in one night. */
const mannerOf = (frame: PlannedFrame) => (frame.kind === 'light' && !frame.aside ? 'renamed' : 'in place')

/** The real moment (of the clock that `realMs` was read from) at which a moment of the night is due, played at `speed`. */
export const nightClock = (nightMs: number, realMs: number, speed: number) => (atMs: number) =>
  realMs + (atMs - nightMs) / speed
