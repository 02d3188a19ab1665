import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { launchChromium } from './support/chromium.ts'
import { DemoNight } from './support/demo-night.ts'
import { axeFindings } from './support/drawn.ts'
import { soon } from './support/soon.ts'

/** What can be set, from the window; each change is judged with at once. */

let browser: Browser
let night: DemoNight
let page: Page
beforeAll(async () => {
  browser = await launchChromium()
  night = await DemoNight.open(browser, '#/settings')
  page = night.page
}, 180_000)
afterAll(async () => {
  await night?.[Symbol.asyncDispose]()
  await browser?.close()
})

describe('settings', () => {
  test('a count changed by keyboard is judged with at once on another page, and is as delivered again', async () => {
    const shelf = await night.context.newPage()
    await shelf.goto(`${night.host.origin}/#/shelf`)
    await soon(() => shelf.locator('[data-build="ready"]').count()).toBe(4)
    await page.getByLabel('Least to build from').focus()
    await page.keyboard.press('Control+a')
    await page.keyboard.type('30')
    await page.keyboard.press('Enter')
    await page.getByRole('button', { name: 'As delivered: Least to build from' }).waitFor()
    await soon(() => shelf.locator('[data-build="ready"]').count()).toBe(0)
    await page.getByRole('button', { name: 'As delivered: Least to build from' }).click()
    await soon(() => shelf.locator('[data-build="ready"]').count()).toBe(4)
    await shelf.close()
  })

  test('what is no number is pointed out and not kept', async () => {
    const field = page.getByLabel('Darks to a master')
    await field.fill('many')
    await page.getByText('That is no number that can be used here.').waitFor()
    await field.press('Enter')
    await field.press('Escape')
    expect(await field.inputValue()).toBe('20')
  })

  test('a sensor rule is changed with its reason, and taken back', async () => {
    await page.getByRole('button', { name: 'Change: Shortest calibration exposure' }).click()
    await page.getByLabel('Value, in s').fill('4')
    await page.getByLabel('Why').fill('This one settles late.')
    await page.getByRole('button', { name: 'Keep', exact: true }).click()
    await page.getByText('This one settles late.').waitFor()
    await page.getByRole('button', { name: 'All of this class as delivered' }).click()
    await page.getByText('This one settles late.').waitFor({ state: 'detached' })
  })

  test('a rig is named, told what stands there, and renamed', async () => {
    await page.getByRole('button', { name: 'Change capture' }).click()
    await page.getByLabel('Name', { exact: true }).first().fill('Hill pier')
    await page.getByLabel(/^Train:/).fill('Refractor 478')
    await page.getByRole('button', { name: 'Keep', exact: true }).click()
    await page.getByRole('button', { name: 'Change Hill pier' }).click()
    expect(await axeFindings(page)).toEqual([])
    await page.getByLabel('Name', { exact: true }).first().fill('Roof pier')
    await page.getByRole('button', { name: 'Keep', exact: true }).click()
    await page.getByRole('button', { name: 'Change Roof pier' }).waitFor()
  })

  test('a camera is gone and back', async () => {
    await page.getByRole('button', { name: 'It is gone: Heron 11C' }).click()
    await page.getByRole('button', { name: 'It is back: Heron 11C' }).click()
    await page.getByRole('button', { name: 'It is gone: Heron 11C' }).waitFor()
  })

  test('through all of it the page complained of nothing', () => {
    expect(night.troubles).toEqual([])
  })
})
