import { existsSync, mkdirSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { decode, encode } from 'fast-png'
import type { Page } from 'playwright-core'

/**
 * Likenesses: what a screen looks like, as the mean colour of each block of 8 × 8 pixels. So small a picture can be kept for every
 * screen, and the edges of letters, which differ between versions of a browser, hardly count in it; a line that moved does.
 */

const kept = fileURLToPath(new URL('../likenesses/', import.meta.url))
const BLOCK = 8
/** By how much a block's channel may differ, of 255: one stroke of a letter in an 8 × 8 block moves its mean by less. */
const MOST_DIFFERENCE = 16
/** How many blocks of a thousand may differ by more than that. */
const MOST_BLOCKS = 5

interface Likeness {
  width: number
  height: number
  data: Uint8Array
}

/** `TAKE_LIKENESSES=1` in the environment takes them anew instead of comparing. */
export const taking = process.env.TAKE_LIKENESSES === '1'

/** @returns null if the screen looks as it was kept, else a sentence that says how far it is from it and where to look */
export async function unlike(page: Page, name: string): Promise<string | null> {
  const shot = await page.screenshot({ animations: 'disabled', caret: 'hide' })
  const seen = reduce(shot)
  const path = join(kept, `${name}.png`)
  if (taking) {
    mkdirSync(kept, { recursive: true })
    writeFileSync(path, encode({ ...seen, channels: 3, depth: 8 }))
    return null
  }
  if (!existsSync(path)) return `There is no likeness ${name}: take it with TAKE_LIKENESSES=1.`
  const before = decode(readFileSync(path)) as unknown as Likeness
  if (before.width !== seen.width || before.height !== seen.height) return `${name} has another size now.`
  const differing = differingBlocks(before, seen)
  const blocks = seen.width * seen.height
  if (differing * 1000 <= MOST_BLOCKS * blocks) return null
  const shown = join(mkdtempSync(join(tmpdir(), 'nightshelf-unlike-')), `${name}.png`)
  writeFileSync(shown, shot)
  return `${name} differs in ${differing} of ${blocks} blocks: look at ${shown}, and take the likeness anew if it is right.`
}

function reduce(png: Uint8Array): Likeness {
  const { width, height, channels, data } = decode(png)
  const across = Math.floor(width / BLOCK)
  const down = Math.floor(height / BLOCK)
  const sums = new Float64Array(across * down * 3)
  for (let y = 0; y < down * BLOCK; y++)
    for (let x = 0; x < across * BLOCK; x++) {
      const to = (Math.floor(y / BLOCK) * across + Math.floor(x / BLOCK)) * 3
      const from = (y * width + x) * channels
      for (let c = 0; c < 3; c++) sums[to + c] += data[from + c]
    }
  return { width: across, height: down, data: Uint8Array.from(sums, (sum) => Math.round(sum / BLOCK ** 2)) }
}

function differingBlocks(a: Likeness, b: Likeness): number {
  let count = 0
  for (let at = 0; at < a.data.length; at += 3)
    if ([0, 1, 2].some((c) => Math.abs(a.data[at + c] - b.data[at + c]) > MOST_DIFFERENCE)) count++
  return count
}
