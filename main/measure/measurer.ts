import { createCrew } from './crew.ts'
import type { MeasureAsk, Measured } from './measure-file.ts'
import { threadScript } from './thread-script.ts'

export { FileProblem } from './crew.ts'
export type { Measured } from './measure-file.ts'

export interface MeasureOptions {
  /** Four letters from the first stored pixel, row by row (Frame.cfa); null for mono. */
  cfa: string | null
  thumbnail?: boolean
  /** SHA-256 of the whole file in the same pass. */
  hash?: boolean
}

/** Pixel figures in threads of their own: nothing that waits for a verdict waits for these. */
export interface Measurer {
  /** Rejects with a `FileProblem` (one sentence) for a bad file, the signal's reason when aborted, another Error when the thread died. */
  measure(path: string, options: MeasureOptions, signal?: AbortSignal): Promise<Measured>
  close(): Promise<void>
}

/**
 * @param options `workers`: most frames measured at once, each takes a core while it is at it; `script`: the threads' file where it is
 *   not the one beside this (a benchmark of the built program)
 */
export function createMeasurer(options: { workers?: number; script?: URL } = {}): Measurer {
  const crew = createCrew<MeasureAsk, Measured>(
    options.script ?? threadScript(import.meta.url, 'measure'),
    options.workers,
  )
  return {
    measure: (path, { cfa, thumbnail = false, hash = false }, signal) =>
      crew.ask({ path, cfa, thumbnail, hash }, signal),
    close: () => crew.close(),
  }
}
