import { mkdirSync, mkdtempSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { decode } from 'fast-png'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { encodeFits } from '../../main/fits/index.ts'
import { rawTileFile } from '../fits/files.ts'
import { collectTroubles, launchChromium } from './support/chromium.ts'
import { axeFindings, greenOrBluePixels, sidewaysOverflow } from './support/drawn.ts'
import { number } from '../../renderer/parts/format.ts'
import { Host } from './support/host.ts'
import { soon } from './support/soon.ts'

const WIDTH = 60
const HEIGHT = 40
/** Red, green, blue under RGGB; no two pixels of a colour are alike, and many are in the upper half of 16 bits. */
const CELLS = [20_000, 30_000, 30_000, 10_000]
const pixel = (x: number, y: number) => CELLS[(y % 2) * 2 + (x % 2)] + 13 * (y * WIDTH + x)
const samples = Uint16Array.from({ length: WIDTH * HEIGHT }, (_, i) => pixel(i % WIDTH, Math.floor(i / WIDTH)))

const cards = (number: number) => [
  { keyword: 'IMAGETYP', value: 'LIGHT' },
  { keyword: 'INSTRUME', value: 'Test camera' },
  { keyword: 'OBJECT', value: 'Ferry Cloud' },
  { keyword: 'EXPTIME', value: 120, comment: '[s] how long the shutter stood open' },
  { keyword: 'GAIN', value: 100 },
  { keyword: 'OFFSET', value: 30 },
  { keyword: 'CCD-TEMP', value: -10 },
  { keyword: 'EGAIN', value: 0.25, comment: '[e-/ADU] conversion gain' },
  { keyword: 'BAYERPAT', value: 'RGGB' },
  { keyword: 'ROWORDER', value: 'TOP-DOWN' },
  { keyword: 'DATE-OBS', value: `2026-11-20T22:0${number}:00` },
]

/** The same image in tiles of one row each. */
function packed(): Buffer {
  const bytes = Buffer.alloc(samples.length * 2)
  samples.forEach((value, i) => bytes.writeInt16BE(value - 32_768, 2 * i))
  const row = (y: number) => bytes.subarray(2 * WIDTH * y, 2 * WIDTH * (y + 1))
  // The last row as it is: gzip ends in zeros, and a file that does is waited for in case it is not whole.
  const tiles = Array.from({ length: HEIGHT }, (_, y) =>
    y < HEIGHT - 1 ? { COMPRESSED_DATA: gzipSync(row(y)) } : { UNCOMPRESSED_DATA: row(y) },
  )
  const record = (keyword: string, value: string) => `${keyword.padEnd(8)}= ${value.padStart(20)}`
  return rawTileFile({
    bitpix: 16,
    axes: [WIDTH, HEIGHT],
    method: 'GZIP_1',
    tiles,
    element: { letter: 'I', width: 2 },
    more: [
      record('BZERO', '32768'),
      record('BSCALE', '1'),
      "IMAGETYP= 'LIGHT'",
      "DATE-OBS= '2026-11-20T23:00:00'",
      "INSTRUME= 'Test camera'",
    ],
  })
}

let folder: string
let host: Host
let browser: Browser
let context: BrowserContext
let page: Page
let troubles: string[]

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'nightshelf-viewer-'))
  const capture = join(folder, 'capture')
  mkdirSync(capture)
  const image = { width: WIDTH, height: HEIGHT, bitpix: 16 as const, unsigned: true, image: samples }
  for (const number of [1, 2, 3])
    writeFileSync(join(capture, `light_${number}.fits`), encodeFits({ ...image, cards: cards(number) }))
  writeFileSync(join(capture, 'packed.fits'), packed())
  host = await Host.start({ data: join(folder, 'data'), args: ['--watch', capture] })
  browser = await launchChromium()
  context = await browser.newContext({ viewport: { width: 1280, height: 800 }, timezoneId: 'Europe/London' })
  page = await context.newPage()
  troubles = collectTroubles(page)
  await page.goto(host.address)
  await page.locator('.band').first().waitFor()
})
afterAll(async () => {
  await context?.close()
  await browser?.close()
  await host?.stop()
  rmSync(folder, { recursive: true, force: true })
})

const go = (hash: string) => page.evaluate((to) => void (location.hash = to), hash)
const stage = () => page.locator('.stage')
const shownScale = () => page.locator('.scale').textContent()

async function look(hash: string) {
  await go(hash)
  await page.locator('.stage[data-drawn=whole]').waitFor()
}

/** Where a pixel's middle is on the page: the image stands in the middle of the canvas, enlarged by `scale`. */
async function placeOf(x: number, y: number, scale: number) {
  const box = (await page.locator('canvas').boundingBox())!
  const left = box.x + Math.round(box.width / 2 - (WIDTH / 2) * scale)
  const top = box.y + Math.round(box.height / 2 - (HEIGHT / 2) * scale)
  return { x: left + (x + 0.5) * scale, y: top + (y + 0.5) * scale }
}

async function pointAt(x: number, y: number, scale: number) {
  const place = await placeOf(x, y, scale)
  await page.mouse.move(place.x, place.y)
}

test('a frame’s picture is reached from its page, and Escape returns', async () => {
  await go('#/frame/1')
  await page.getByRole('link', { name: 'Look at the picture' }).click()
  await page.locator('.stage[data-drawn=whole]').waitFor()
  expect(page.url()).toContain('#/view/frame/1')
  await page.keyboard.press('Escape')
  await page.getByRole('link', { name: 'Look at the picture' }).waitFor()
  expect(page.url()).toContain('#/frame/1')
})

test('the value under the pointer is the file’s own, in ADU and electrons, at the place that FITS gives it', async () => {
  await look('#/view/frame/1')
  const scale = Number((await shownScale())!.split(':')[0])
  for (const [x, y] of [
    [0, 0],
    [59, 39],
    [17, 5],
    [31, 33],
  ]) {
    await pointAt(x, y, scale)
    await soon(() => page.locator('[data-value]').getAttribute('data-value')).toBe(String(pixel(x, y)))
    expect(await page.locator('.position').textContent()).toBe(`x ${x + 1}, y ${y + 1}`)
    const electrons = (pixel(x, y) / 4).toFixed(1)
    expect((await page.locator('.number').textContent())!.replaceAll(/[\u00a0\u202f]/g, '')).toBe(
      `${pixel(x, y)}ADU, ${electrons}e⁻`,
    )
  }
})

test('keys, buttons and wheel zoom to single pixels, which are squares with crisp edges', async () => {
  await look('#/view/frame/1')
  await page.getByRole('button', { name: '1:1' }).click()
  expect(await shownScale()).toBe('1:1')
  for (const wanted of ['2:1', '3:1', '4:1', '6:1', '8:1']) {
    await page.keyboard.press('+')
    await soon(shownScale).toBe(wanted)
  }
  await page.keyboard.press('-')
  await soon(shownScale).toBe('6:1')
  await pointAt(30, 20, 6)
  await page.mouse.wheel(0, -120)
  await soon(shownScale).toBe('8:1')
  await page.mouse.wheel(0, 120)
  await soon(shownScale).toBe('6:1')
  await page.keyboard.press('b')
  await page.waitForTimeout(150)
  const middle = await placeOf(30, 20, 6)
  const { data, channels } = decode(
    await page.screenshot({ clip: { x: Math.round(middle.x) - 60, y: Math.round(middle.y), width: 120, height: 1 } }),
  )
  const shades = Array.from({ length: 120 }, (_, i) => data[i * channels])
  const runs = shades.join(' ').match(/\b(\d+)( \1\b)*/g)!
  expect(runs.slice(1, -1).every((run) => run.split(' ').length === 6)).toBe(true)
  const linear = Array.from({ length: WIDTH }, (_, x) => Math.round((255 * pixel(x, 20)) / 65_535))
  expect(linear.join(' ')).toContain(
    runs
      .slice(1, -1)
      .map((run) => run.split(' ')[0])
      .join(' '),
  )
  await page.keyboard.press('b')
  await page.keyboard.press('0')
  await soon(() => page.getByRole('button', { name: 'Whole' }).getAttribute('aria-pressed')).toBe('true')
})

test('it is moved by dragging and by arrows, and the keyboard alone reads the pixel in the middle', async () => {
  await look('#/view/frame/1')
  await page.keyboard.press('o')
  while ((await shownScale()) !== '32:1') await page.keyboard.press('+')
  const said = page.locator('[aria-live=polite].out-of-sight')
  const spoken = async () => {
    await page.waitForTimeout(150)
    await page.keyboard.press('v')
    const [, x, y, adu] = /^x (\d+), y (\d+): (.+?) ADU/.exec((await said.textContent())!.replaceAll('\u00a0', ' '))!
    expect(adu).toBe(number(pixel(Number(x) - 1, Number(y) - 1)))
    return { x: Number(x), y: Number(y) }
  }
  const first = await spoken()
  // Five steps of 80 device pixels are twelve and a half pixels at 32:1.
  for (let i = 0; i < 5; i++) await page.keyboard.press('ArrowLeft')
  const moved = await spoken()
  expect([12, 13]).toContain(first.x - moved.x)
  expect(moved.y).toBe(first.y)
  const box = (await stage().boundingBox())!
  await page.mouse.move(box.x + 200, box.y + 200)
  await page.mouse.down()
  await page.mouse.move(box.x + 264, box.y + 232, { steps: 4 })
  await page.mouse.up()
  await page.mouse.move(5, 5)
  expect(await spoken()).toEqual({ x: moved.x - 2, y: moved.y - 1 })
  await page.keyboard.press('0')
})

test('a filter array is seen as a mosaic, or in colour', async () => {
  await look('#/view/frame/1')
  const coloured = async () => {
    await page.waitForTimeout(150)
    const { data, channels } = decode(await page.locator('canvas').screenshot())
    let found = 0
    for (let at = 0; at < data.length; at += channels) if (Math.abs(data[at] - data[at + 2]) > 40) found++
    return found
  }
  await page.getByRole('radio', { name: 'mosaic' }).focus()
  await stage().hover()
  await soon(coloured).toBe(0)
  await page.getByRole('radio', { name: 'colour' }).check()
  await stage().hover()
  await soon(coloured).toBeGreaterThan(50_000)
  expect(await page.getByText('Colours as the sensor gives them').isVisible()).toBe(true)
  await page.getByRole('radio', { name: 'mosaic' }).check()
  expect(await page.getByText('Colours as the sensor gives them').count()).toBe(0)
})

test('the header is searched as one types, by keyword, value or comment', async () => {
  await look('#/view/frame/1')
  const find = page.getByLabel('Find in the header')
  for (const [words, keyword] of [
    ['bayer', 'BAYERPAT'],
    ['ferry', 'OBJECT'],
    ['shutter stood', 'EXPTIME'],
  ]) {
    await find.fill(words)
    await soon(() => page.locator('tbody th').allTextContents()).toEqual([keyword])
  }
  await find.fill('')
})

test('axe finds nothing, nothing is wider than its window, and with the red lamp no pixel carries green or blue', async () => {
  await look('#/view/frame/1')
  expect(await axeFindings(page)).toEqual([])
  for (const [width, height] of [
    [1920, 1080],
    [480, 900],
    [390, 844],
    [320, 640],
  ]) {
    await page.setViewportSize({ width, height })
    expect(await sidewaysOverflow(page)).toBe(0)
  }
  await page.setViewportSize({ width: 1280, height: 800 })
  await stage().focus()
  await page.keyboard.press('l')
  await page.keyboard.press('c')
  await page.waitForTimeout(200)
  expect(await greenOrBluePixels(page)).toBe(0)
  expect(await axeFindings(page)).toEqual([])
  await page.keyboard.press('c')
  await page.keyboard.press('l')
})

test('a frame is set aside with a word and taken back, and so are several of its run; what it is can be said', async () => {
  await go('#/frame/1')
  await page.getByRole('button', { name: 'Set aside: culled' }).click()
  await page.getByText('It is aside (culled) and needs nothing.').waitFor()
  await page.getByRole('button', { name: 'Take it back' }).click()
  await page.getByText('It counts. Set it aside').waitFor()
  await page.getByLabel('Choose frame 2').check()
  await page.getByLabel('Choose frame 3').check()
  await page.getByRole('button', { name: 'Set the chosen frames aside: trial' }).click()
  await soon(() => page.getByRole('cell', { name: 'aside: trial' }).count()).toBe(2)
  await page.getByRole('button', { name: 'Take it back' }).click()
  await soon(() => page.getByRole('cell', { name: 'aside: trial' }).count()).toBe(0)
  await page.getByRole('radio', { name: 'flat', exact: true }).check()
  await page.getByText('Its kind is flat, as you said').waitFor()
  await page.getByRole('button', { name: 'As its header says' }).click()
  await page.getByText('Its kind is light, from its header').waitFor()
  expect(await axeFindings(page)).toEqual([])
})

test('keys step through the run, on the page and in the picture', async () => {
  await go('#/frame/1')
  await page.getByText('1 of 3 in its run').waitFor()
  await page.keyboard.press('n')
  await page.getByText('2 of 3 in its run').waitFor()
  expect(page.url()).toContain('#/frame/2')
  await page.getByRole('link', { name: 'Look at the picture' }).click()
  await page.getByText('2 of 3 in its run').waitFor()
  await page.keyboard.press('n')
  await page.getByText('3 of 3 in its run').waitFor()
  await page.locator('.stage[data-drawn=whole]').waitFor()
  await page.keyboard.press('p')
  await soon(() => page.url()).toContain('#/view/frame/2')
})

test('a tile-compressed frame is unpacked first and shows the same pixels', async () => {
  await look('#/view/frame/4')
  await pointAt(41, 12, Number((await shownScale())!.split(':')[0]))
  await soon(() => page.locator('[data-value]').getAttribute('data-value')).toBe(String(pixel(41, 12)))
})

test('a file that is away says what to do, and comes when it is back', async () => {
  const path = join(folder, 'capture', 'light_3.fits')
  renameSync(path, join(folder, 'elsewhere'))
  await go('#/view/frame/3')
  await page.getByText('connect its disk, or look whether it was moved').waitFor()
  renameSync(join(folder, 'elsewhere'), path)
  await page.getByRole('button', { name: 'Try again' }).click()
  await page.locator('.stage[data-drawn=whole]').waitFor()
})

test('the page complained of nothing', () => {
  expect(troubles).toEqual([])
})
