import { screen, type Rectangle } from 'electron'
import { readFileSync, renameSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { z } from 'zod'

const boundsSchema = z.object({ x: z.int(), y: z.int(), width: z.int().min(480), height: z.int().min(360) })
const placeSchema = boundsSchema.extend({ strip: z.boolean().default(false), maximized: z.boolean().default(false) })
const fileIn = (dataDir: string) => join(dataDir, 'window-place.json')

export interface Place {
  bounds: Partial<Rectangle> & { width: number; height: number }
  /** It was the narrow strip above other windows; `bounds` is where it is otherwise. */
  strip: boolean
  maximized: boolean
}

/** Where the window was, if that is still on a screen: a second screen may have been unplugged meanwhile. */
export function rememberedPlace(dataDir: string): Place {
  const usual = { width: 1280, height: 860 }
  try {
    const { strip, maximized, ...bounds } = placeSchema.parse(JSON.parse(readFileSync(fileIn(dataDir), 'utf8')))
    const { workArea } = screen.getDisplayMatching(bounds)
    return { bounds: overlaps(bounds, workArea) ? bounds : usual, strip, maximized }
  } catch {
    return { bounds: usual, strip: false, maximized: false }
  }
}

/** Only a comfort: where it cannot be written, the window opens in its usual size. */
export function rememberPlace(dataDir: string, { bounds, strip, maximized }: Place): void {
  const file = fileIn(dataDir)
  try {
    writeFileSync(`${file}.unfinished`, JSON.stringify({ ...bounds, strip, maximized }))
    renameSync(`${file}.unfinished`, file)
  } catch {
    return
  }
}

/** At least a hand's breadth of the window must be on the screen to be grasped. */
function overlaps(a: Rectangle, b: Rectangle): boolean {
  const width = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x)
  const height = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y)
  return width >= 100 && height >= 100
}
