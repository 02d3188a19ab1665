import { screen, type BrowserWindow, type Rectangle } from 'electron'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { z } from 'zod'

const placeSchema = z.object({ x: z.int(), y: z.int(), width: z.int().min(480), height: z.int().min(360) })
const fileIn = (dataDir: string) => join(dataDir, 'window-place.json')

/** Where the window was, if that is still on a screen: a second screen may have been unplugged meanwhile. */
export function rememberedPlace(dataDir: string): Partial<Rectangle> & { width: number; height: number } {
  const usual = { width: 1280, height: 860 }
  try {
    const place = placeSchema.parse(JSON.parse(readFileSync(fileIn(dataDir), 'utf8')))
    const { workArea } = screen.getDisplayMatching(place)
    return overlaps(place, workArea) ? place : usual
  } catch {
    return usual
  }
}

/** Only a comfort: where it cannot be written, the window opens in its usual size. */
export function rememberPlace(dataDir: string, window: BrowserWindow): void {
  try {
    writeFileSync(fileIn(dataDir), JSON.stringify(window.getNormalBounds()))
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
