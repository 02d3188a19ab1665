import { copyFileSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { frameBytes } from '../engine/night-files.ts'
import { launchChromium } from './support/chromium.ts'
import { DemoNight } from './support/demo-night.ts'
import { axeFindings, greenOrBluePixels, sidewaysOverflow } from './support/drawn.ts'
import { soon } from './support/soon.ts'

/** The shelf of a whole simulated night, in a real browser against the real host: the grid, finding, adding by drop, retiring and undo. */

let browser: Browser
let night: DemoNight
let page: Page
beforeAll(async () => {
  browser = await launchChromium()
  night = await DemoNight.open(browser, '#/shelf', { library: true })
  page = night.page
}, 180_000)
afterAll(async () => {
  await night?.[Symbol.asyncDispose]()
  await browser?.close()
})

const rows = () => page.locator('[data-master]')
const find = () => page.getByLabel('Find, in plain words')
const cell = (name: RegExp) => page.getByRole('link', { name })

/** Drops files on the page as a person would: by real drag events, with the bytes that the page cannot have a path for. */
async function drop(files: Record<string, Buffer>): Promise<void> {
  const transfer = await page.evaluateHandle(
    (files) => {
      const transfer = new DataTransfer()
      for (const [name, text] of files)
        transfer.items.add(new File([Uint8Array.from(atob(text!), (letter) => letter.charCodeAt(0))], name!))
      return transfer
    },
    Object.entries(files).map(([name, bytes]) => [name, bytes.toString('base64')]),
  )
  for (const event of ['dragenter', 'dragover']) await page.dispatchEvent('main', event, { dataTransfer: transfer })
  await page.getByText('Drop masters here').waitFor()
  await page.dispatchEvent('main', 'drop', { dataTransfer: transfer })
}

describe('the coverage grid', () => {
  test('shows which darks are here, old, near or due, in words, and leads by arrow keys from cell to cell', async () => {
    await soon(() => cell(/^Dark 120\s?s at −10\s?°C: due\s*, \d+\s?lights wait/).count()).toBe(1)
    await cell(/^Dark 30\s?s at −10\s?°C: check it/).waitFor()
    await cell(/^Dark 180\s?s at −10\s?°C: near/).waitFor()
    await cell(/^Dark flat 6\s?s at −10\s?°C: \d+\s?(days|months)/).waitFor()
    await cell(/^Dark 30\s?s/).focus()
    await page.keyboard.press('ArrowDown')
    await page.keyboard.press('ArrowDown')
    const focused = () => page.evaluate(() => document.activeElement!.textContent!.trim())
    expect(await focused()).toMatch(/^Dark 180/)
    await page.keyboard.press('ArrowLeft')
    expect(await focused()).toMatch(/^Dark 180\s?s at −11.5\s?°C: /)
    await page.keyboard.press('Enter')
    await page.getByRole('heading', { name: /^Dark, 180/ }).waitFor()
    await page.goBack()
  })
})

describe('finding', () => {
  test('plain words find as they are typed, are kept in the address, and say what was understood', async () => {
    await find().fill('flat dark')
    await soon(() => rows().count()).toBe(1)
    await page.getByText('Looking for: dark flats').waitFor()
    expect(page.url()).toContain('#/shelf?find=flat%20dark')
    await find().fill('older than a year')
    await soon(() => rows().locator('th').allInnerTexts()).toEqual(['Dark'])
    await page.getByRole('button', { name: 'Which words work' }).click()
    await page.getByRole('link', { name: 'unconfirmed', exact: true }).click()
    await soon(() => find().inputValue()).toBe('unconfirmed')
    await soon(() => rows().count()).toBe(1)
    await page.reload()
    await soon(() => rows().count()).toBe(1)
    await find().fill('')
  })

  test('the table tells its size, sorts by its headings, and is walked by the arrow keys', async () => {
    await soon(() => rows().count()).toBe(9)
    const table = page.getByRole('region', { name: 'Masters, as a table' })
    expect(await table.locator('table').getAttribute('aria-rowcount')).toBe('10')
    await table.getByRole('button', { name: 'exposure' }).click()
    await table.getByRole('button', { name: /^exposure/ }).click()
    expect(await table.getByRole('columnheader', { name: /^exposure/ }).getAttribute('aria-sort')).toBe('descending')
    expect((await rows().first().locator('td').first().innerText()).replaceAll('\u00a0', ' ')).toBe('600 s')
    await rows().first().locator('a').focus()
    await page.keyboard.press('End')
    expect(await page.evaluate(() => document.activeElement!.closest('tr')!.getAttribute('aria-rowindex'))).toBe('10')
  })
})

describe('a master', () => {
  test('has its picture, figures, glow map, file, the nights that use it and its checks on one page', async () => {
    await find().fill('dark 30 s')
    await soon(() => rows().count()).toBe(1)
    await rows().locator('a').click()
    for (const name of ['Glow map', 'Histogram', 'Nights that use it', 'Checks'])
      await page.getByRole('heading', { name }).waitFor({ timeout: 30_000 })
    await page.getByText('hot pixels').waitFor()
    await page.getByRole('link', { name: '20 November 2026' }).waitFor()
    await page.getByText('Never checked.').waitFor()
    await page.getByRole('button', { name: 'Copy the path' }).waitFor()
    await page.locator('figure canvas').first().waitFor()
    await page.getByRole('button', { name: 'Verify its file' }).click()
    await page.getByText('byte for byte, what was recorded').waitFor()
    expect(await axeFindings(page)).toEqual([])
  })

  test('that is retired matches nothing, and comes back by undo, here and from the list on the shelf', async () => {
    await page.getByRole('button', { name: 'Retire' }).click()
    await page.getByText('Retired: it matches nothing').waitFor()
    await page.getByText('It is out of matching').waitFor()
    await page.getByRole('button', { name: 'Take back' }).click()
    await page.getByText('Ready: it may match').waitFor()
    await page.getByRole('button', { name: 'Retire' }).click()
    await page.getByText('Retired: it matches nothing').waitFor()
    await night.go('#/shelf')
    await soon(() => cell(/^Dark 30\s?s at −10\s?°C: due/).count()).toBe(1)
    await page.getByRole('button', { name: /^Take back: Master \d+ was retired/ }).click()
    await page.getByText(/^Taken back: Master/).waitFor()
    await soon(() => cell(/^Dark 30\s?s at −10\s?°C: check it/).count()).toBe(1)
  })
})

describe('adding', () => {
  const bare = (seed: number) =>
    frameBytes({ kind: 'Dark', gain: null, offset: 30, target: null, camera: 'Testcam 26', seed })
  const whole = frameBytes({ kind: 'Dark', target: null, seed: 3, more: [{ keyword: 'NCOMBINE', value: 20 }] })

  test('several dropped at once: good ones are added, each bad one says why, and one form asks what the rest lack', async () => {
    await drop({
      'master_gain100_a.fits': bare(1),
      'master_gain100_b.fits': bare(2),
      'whole.fits': whole,
      'notes.txt': Buffer.from('no'),
      'broken.fits': Buffer.from('SIMPLE'),
    })
    await page.getByText('1\u00a0master added.').waitFor()
    const refused = page.getByRole('list', { name: 'Files that were not added' })
    expect(await refused.locator('li').count()).toBe(2)
    expect(await refused.innerText()).toMatch(/notes\.txt\s+By its name this is no FITS file/)
    const form = page.getByRole('form', { name: 'What the headers do not say' })
    const gain = form.locator('[data-field="gain"]')
    expect(await gain.getByRole('textbox').inputValue()).toBe('')
    expect(await axeFindings(page)).toEqual([])
    await gain.getByRole('button', { name: 'The names say 100: take it' }).click()
    expect(await gain.getByRole('textbox').inputValue()).toBe('100')
    await form.getByRole('radio', { name: 'ADU, as the camera counts' }).check()
    await form.getByRole('radio', { name: 'nothing' }).check()
    await form.getByRole('button', { name: 'Add with these' }).click()
    await page.getByText('3\u00a0masters added.').waitFor()
    await find().fill('testcam gain 100')
    await soon(() => rows().count()).toBe(3)
    expect(readdirSync(join(night.host.data, 'masters')).sort()).toEqual([
      'master_gain100_a.fits',
      'master_gain100_b.fits',
      'whole.fits',
    ])
    expect(readdirSync(join(night.host.data, 'incoming'))).toEqual([])
    await find().fill('')
  })

  test('by path, a folder as well; what was added can be taken back', async () => {
    const folder = join(night.folder, 'more')
    mkdirSync(folder)
    writeFileSync(
      join(folder, 'one.fits'),
      frameBytes({ kind: 'Dark', target: null, seed: 11, exposureS: 7, more: [{ keyword: 'NCOMBINE', value: 20 }] }),
    )
    copyFileSync(join(folder, 'one.fits'), join(folder, 'same.fits'))
    await page.getByLabel(/^Or paths of files or folders/).fill(folder)
    await page.getByRole('button', { name: 'Add to the shelf' }).click()
    await page.getByText(/^1\u00a0master added\.\s+1\u00a0file stood on the shelf before/).waitFor()
    await page.getByRole('button', { name: 'Leave it open' }).click()
    await page.getByRole('button', { name: /^Take back: Master \d+ was taken in: one\.fits/ }).click()
    await find().fill('7 s')
    await page.getByText('No master carries all these words').waitFor()
    await page.getByRole('button', { name: /^Show all/ }).click()
    expect(readdirSync(folder)).toEqual(['one.fits', 'same.fits'])
  })
})

test('axe finds nothing in either look and at 390 px, nothing stands out sideways at 320 px or with text twice as large', async () => {
  expect(await axeFindings(page)).toEqual([])
  await page.setViewportSize({ width: 390, height: 844 })
  await page.keyboard.press('l')
  expect(await axeFindings(page)).toEqual([])
  expect(await greenOrBluePixels(page)).toBe(0)
  expect(await sidewaysOverflow(page)).toBe(0)
  await page.setViewportSize({ width: 320, height: 640 })
  expect(await sidewaysOverflow(page)).toBe(0)
  await page.setViewportSize({ width: 1280, height: 800 })
  await page.evaluate(() => void (document.documentElement.style.fontSize = '200%'))
  expect(await sidewaysOverflow(page)).toBe(0)
  expect(night.troubles.filter((line) => !line.includes('404'))).toEqual([])
})
