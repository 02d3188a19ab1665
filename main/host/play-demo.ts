import { readdirSync } from 'node:fs'
import { join } from 'node:path'
import { defaultSize, writeNight } from '../demo/write-night.ts'
import type { PlayDemo } from '../engine/requests/folders.ts'

/** Plays a simulated night for a window: the engine watches it as it would a camera's folder. */
export const playDemo: PlayDemo = (below, { speed, night, seed }, signal) =>
  new Promise((resolve, reject) => {
    let capture: string | null = null
    const library = join(below, 'library')
    writeNight(below, { night, seed, ...defaultSize, speed }, signal, ({ frame, path }) => {
      if (capture !== null) return
      capture = path.slice(0, -frame.path.length - 1)
      const masters = readdirSync(library).filter((name) => name.endsWith('.fits'))
      resolve({ capture, masters: masters.map((name) => join(library, name)) })
    }).catch((error: unknown) => {
      if (capture === null) reject(error)
      else if (!signal.aborted) process.stderr.write(`The demo night stopped: ${(error as Error).message}\n`)
    })
  })
