import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser } from 'playwright-core'
import { defaultSensorRules } from '../../main/rules/sensor-rules.ts'
import { frame, notices, shortfall, tonight, verdict } from '../renderer/support/night.ts'
import { answers } from './support/answers.ts'
import { launchChromium } from './support/chromium.ts'
import {
  axeFindings,
  Drawing,
  greenOrBluePixels,
  refused,
  servePage,
  sidewaysOverflow,
  tell,
  type DrawOptions,
} from './support/drawn.ts'

let browser: Browser
let server: Awaited<ReturnType<typeof servePage>>
let drawing: Drawing
beforeAll(async () => {
  browser = await launchChromium()
  server = await servePage()
  drawing = await Drawing.open(browser, server.address)
})
afterAll(async () => {
  await browser.close()
  await server[Symbol.asyncDispose]()
})

const draw = (options: Partial<DrawOptions> = {}) => drawing.draw({ answers, ...options })

describe('Tonight', () => {
  test('says the answer in words and signs, and marks it for tests and styles of one’s own', async () => {
    const { page } = await draw()
    const band = page.locator('.band')
    expect(
      await band.locator('[data-verdict]').evaluateAll((all) => all.map((e) => e.getAttribute('data-verdict'))),
    ).toEqual(['matched', 'due'])
    expect(await band.innerText()).toMatch(/Dark: matched\s+41 days old, 30 frames, exact/)
    expect(await band.innerText()).toContain('Flat: due before teardown')
    expect(await page.locator('[data-kind]').evaluateAll((all) => all.map((e) => e.getAttribute('data-kind')))).toEqual(
      ['flat', 'darkFlat', 'dark'],
    )
    expect(await page.locator('[data-rule]').count()).toBe(2)
  })

  test('shows a frame that lands at once, without asking', async () => {
    const { page } = await draw()
    await page.locator('.band').waitFor()
    await tell(page, {
      event: 'landed',
      frame: { ...frame, id: 215, target: 'Veil' },
      verdicts: { dark: verdict('missing', 'none, and the camera is gone') },
      number: 38,
    })
    await page.getByText('Light 38').waitFor()
    expect(await page.locator('.band').innerText()).toContain('Dark: missing')
  })

  test('says first what must be done now, and leads to its notice', async () => {
    const urgent = { ...notices[0]!, id: 'u', severity: 'actNow', text: 'Shoot the flats now.', sounds: true }
    const { page } = await draw({ answers: { ...answers, tonight: { ...tonight, notices: [urgent, ...notices] } } })
    await page.getByRole('button', { name: 'Show: Shoot the flats now.' }).click()
    expect(
      await page.evaluate(() => document.activeElement?.closest('[data-rule]')?.getAttribute('data-severity')),
    ).toBe('actNow')
    expect(await axeFindings(page)).toEqual([])
  })

  test('shows the night as a table to those who prefer one, aside runs included', async () => {
    const { page } = await draw()
    await page.getByRole('button', { name: 'as a table' }).click()
    expect(await page.locator('table tbody tr').count()).toBe(4)
    expect(await axeFindings(page)).toEqual([])
  })

  test('zooms into the night by button, key and wheel, moves by drag, and leads through the runs by arrow keys', async () => {
    const { page } = await draw()
    const shown = () => page.locator('figure:has(.plot)').getAttribute('aria-label')
    const whole = await shown()
    await page.getByRole('button', { name: 'Less of the night, larger (+)' }).click()
    const larger = await shown()
    expect(larger).not.toBe(whole)
    await page.keyboard.press('0')
    expect(await shown()).toBe(whole)
    const box = (await page.locator('.plot').boundingBox())!
    await page.mouse.move(box.x + box.width * 0.5, box.y + 20)
    await page.mouse.wheel(0, 0)
    await page.keyboard.down('Control')
    await page.mouse.wheel(0, -200)
    await page.keyboard.up('Control')
    await expect.poll(shown).not.toBe(whole)
    const closer = await shown()
    await page.mouse.down()
    await page.mouse.move(box.x + box.width * 0.2, box.y + 20, { steps: 4 })
    await page.mouse.up()
    await expect.poll(shown).not.toBe(closer)
    expect(page.url()).toContain('#/tonight')
    await page.getByRole('link', { name: 'Heart 1 · dual-band · 180 s' }).focus()
    await page.keyboard.press('ArrowDown')
    const reached = page.locator('[data-run="b"]')
    expect(await reached.evaluate((link) => link === document.activeElement)).toBe(true)
    expect(await page.locator('#run-b').innerText()).toMatch(/22\slights, 44\smin\s+dark due\s+flat near/)
    await page.keyboard.press('0')
    await page.keyboard.press('Enter')
    await expect.poll(() => page.url()).toContain('#/frame/178')
  })

  test('says so where the place is not known, and marks and names stretches without any frame', async () => {
    const { page } = await draw({ answers: { ...answers, tonight: { ...tonight, sun: null, site: null } } })
    await page.getByText('Twilight is not drawn: the place is not known.').waitFor()
    expect(await page.getByRole('list', { name: 'Gaps' }).innerText()).toContain('no frame for 12\u00a0min')
  })

  test('copies one row in plain words, and everything at once', async () => {
    const { page } = await draw()
    await page.context().grantPermissions(['clipboard-read', 'clipboard-write'])
    await page.getByRole('button', { name: /^Copy the settings for 20 darks/ }).click()
    await page.getByText('Copied', { exact: true }).waitFor()
    const one = await page.evaluate(() => navigator.clipboard.readText())
    expect(one.split('\n').slice(0, 5)).toEqual([
      '20 darks (4 are there already)',
      '  120 s',
      '  gain 120',
      '  offset 50',
      '  -10 °C',
    ])
    await page.getByRole('button', { name: 'Copy all' }).click()
    await expect.poll(() => page.evaluate(() => navigator.clipboard.readText())).toContain('25 flats, dual-band')
  })

  test('copies where the browser gives the page no clipboard', async () => {
    const { page } = await draw()
    await page.context().grantPermissions(['clipboard-read', 'clipboard-write'])
    await page.evaluate(() => {
      Object.assign(window, { read: () => realClipboard.readText() })
      const realClipboard = navigator.clipboard
      Object.defineProperty(navigator, 'clipboard', { value: undefined })
    })
    await page.getByRole('button', { name: /^Copy the settings for 25 flats/ }).click()
    await page.getByText('Copied', { exact: true }).waitFor()
    expect(await page.evaluate(() => (window as unknown as { read(): Promise<string> }).read())).toMatch(/^25 flats/)
  })

  test('gives a band to each rig', async () => {
    const second = { ...tonight.latest[0]!, rig: 'Roof', frame: { ...frame, id: 300, rig: 'Roof' } }
    const { page } = await draw({
      answers: { ...answers, tonight: { ...tonight, latest: [...tonight.latest, second] } },
    })
    await expect.poll(() => page.locator('.band').count()).toBe(2)
    expect(await page.locator('.band').last().innerText()).toContain('Roof')
  })

  test('says so when nothing is lacking', async () => {
    const { page } = await draw({ answers: { ...answers, tonight: { ...tonight, shortfall: [], notices: [] } } })
    await page.getByText('Nothing: every light of this night has what it needs').waitFor()
    await page.getByText('Nothing to know at the moment.').waitFor()
  })

  test('says why when the log cannot be read', async () => {
    const { page } = await draw({
      answers: { ...answers, tonight: refused('The log’s disk is full: free some room.') },
    })
    await page.getByText('The log’s disk is full: free some room.').waitFor()
  })

  test('draws forty runs and six hundred frames without losing a word', async () => {
    const runs = Array.from({ length: 40 }, (_, index) => ({ ...tonight.runs[0]!, id: `r${index}`, frames: 15 }))
    const rows = Array.from({ length: 30 }, (_, index) => ({ ...shortfall[0]!, id: `s${index}` }))
    const { page } = await draw({ width: 480, answers: { ...answers, tonight: { ...tonight, runs, shortfall: rows } } })
    await expect.poll(() => page.locator('figure ol li').count()).toBe(40)
    expect(await sidewaysOverflow(page)).toBe(0)
  })
})

describe('by keyboard', () => {
  test('1 to 5 lead to the places, and each heading takes the focus', async () => {
    const { page } = await draw()
    for (const [key, name] of [
      ['2', 'Shelf'],
      ['3', 'Flats'],
      ['4', 'Nights'],
      ['5', 'Settings'],
      ['1', 'Tonight'],
    ] as const) {
      await page.keyboard.press(key)
      await expect.poll(() => page.evaluate(() => document.activeElement?.textContent)).toBe(name)
      expect(await page.locator('nav [aria-current=page]').innerText()).toBe(name)
    }
  })

  test('? lists the keys, Escape closes the list, and keys typed into a field are text', async () => {
    const { page } = await draw({ at: '#/shelf' })
    await page.keyboard.press('?')
    await page.getByRole('dialog', { name: 'Keys' }).waitFor()
    expect(await axeFindings(page)).toEqual([])
    await page.keyboard.press('Escape')
    await page.getByLabel('Find, in plain words').focus()
    await page.keyboard.type('180 ?l1')
    expect(page.url()).toContain('#/shelf?find=180')
    expect(await page.locator('dialog[open]').count()).toBe(0)
  })

  test('the first Tab leads past the navigation, and every control is reached', async () => {
    const { page } = await draw()
    await page.keyboard.press('Tab')
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('To the page’s content')
    await page.keyboard.press('Enter')
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('main')
    const wanted = await page.locator('main button:visible, main a:visible').count()
    const reached = new Set<string>()
    for (let step = 0; step < wanted; step++) {
      await page.keyboard.press('Tab')
      reached.add(
        await page.evaluate(() => document.activeElement!.ariaLabel ?? document.activeElement!.textContent!.trim()),
      )
    }
    for (const name of [
      'Light 37',
      'as a table',
      'Copy all everything still to shoot',
      'Acknowledge: Offset changed from 30 to 50 at 21:12.',
      'Show 1 acknowledged',
    ])
      expect([...reached].map((text) => text.replaceAll(/\s+/g, ' '))).toContain(name)
  })

  test('single keys can be switched off', async () => {
    const { page } = await draw({ at: '#/settings' })
    await page.getByRole('group', { name: 'Single keys' }).getByLabel('off').check()
    await page.keyboard.press('2')
    expect(page.url()).toContain('#/settings')
  })
})

describe('elsewhere', () => {
  test('L turns to the other look, and the choice outlasts a reload', async () => {
    const { page } = await draw()
    await page.keyboard.press('l')
    expect(await page.getAttribute('html', 'data-look')).toBe('red-lamp')
    expect(page.url()).not.toContain('look=')
    await page.reload()
    expect(await page.getAttribute('html', 'data-look')).toBe('red-lamp')
  })

  test('a frame’s page shows its differences and its header as text, never as HTML', async () => {
    const { page } = await draw({ at: '#/frame/214' })
    await page.getByText('<b>not bold</b>').waitFor()
    await page.getByLabel('Find in the header').fill('gain')
    await expect.poll(() => page.getByRole('region', { name: 'Header cards' }).locator('tbody tr').count()).toBe(1)
    expect(
      await page.locator('main [data-verdict]').evaluateAll((all) => all.map((e) => e.getAttribute('data-verdict'))),
    ).toEqual(['near', 'lost'])
    expect(await page.getByRole('row', { name: /^Offset/ }).innerText()).toMatch(/30\s+50/)
  })

  test('the shelf finds by plain words, kept in the address', async () => {
    const { page } = await draw({ at: '#/shelf?find=flat%20dark' })
    await expect.poll(() => page.locator('[data-master]').count()).toBe(1)
    await page.getByText('Looking for: dark flats').waitFor()
    await page.getByLabel('Find, in plain words').fill('nothing like this')
    await page.getByText('No master carries all these words.').waitFor()
  })

  test('nights are found by what was photographed in them, by words that stay in the address', async () => {
    const nights = [
      { night: '2026-11-20', targets: ['Heart 1'], lights: 37, lightS: 11_100 },
      { night: '2025-12-02', targets: ['Heart 1', 'Heart 2'], lights: 12, lightS: 3600 },
    ]
    const { page } = await draw({ at: '#/nights?find=heart', answers: { ...answers, findNights: { nights } } })
    await page.getByText('Heart 1 · Heart 2: 49').waitFor()
    expect(
      await page.locator('[data-night]').evaluateAll((all) => all.map((e) => e.getAttribute('data-night'))),
    ).toEqual(['2026-11-20', '2025-12-02'])
    expect(await axeFindings(page)).toEqual([])
    await page.getByLabel('Find a target').fill('hear')
    await expect.poll(() => page.url()).toContain('#/nights?find=hear')
    await expect
      .poll(() => page.evaluate(() => (window as unknown as { asked: { input: unknown }[] }).asked.at(-1)?.input))
      .toEqual({ target: 'hear' })
    await page.getByLabel('Find a target').fill('')
    await page.getByText('November 2026', { exact: true }).waitFor()
  })

  test('when the engine is lost the page says so, keeps what it shows, and is well again when it is back', async () => {
    const { page } = await draw()
    await tell(page, { event: 'engine', state: 'lost' })
    await page.getByText('The engine stopped and is being started again.').waitFor()
    expect(await page.locator('.band').count()).toBe(1)
    await tell(page, { event: 'engine', state: 'ready' })
    await page.getByText('The engine stopped').waitFor({ state: 'hidden' })
  })
})

test('the sensors’ page shows figures, and the floor that was found as a plot and a table, in either look and at 320 px', async () => {
  const flat = { ...tonight.runs[0]!, kind: 'flat' as const, filter: 'luminance', frames: 2 }
  const seconds = [0.5, 1, 2]
  const runs = seconds.map((exposureS, i) => ({ ...flat, exposureS, frameIds: [2 * i + 1, 2 * i + 2] }))
  const points = seconds.map((exposureS, i) => ({
    ...{ exposureS, frames: 2, rateAduPerS: i ? 1000 : 920, departure: i ? 0 : -0.08, jump: 0.004, steady: i > 0 },
    levelsAdu: [1, 1.004].map((part) => part * exposureS * (i ? 1000 : 920)),
  }))
  const group = (tempC: number) => ({ tempC, pedestalAdu: 520 })
  const { page, troubles } = await draw({
    at: '#/settings/sensors',
    width: 320,
    answers: {
      ...answers,
      tonight: { ...tonight, runs },
      settings: { settings: { sensorRules: [{ rules: defaultSensorRules.glow, edited: false }] } },
      findFloor: {
        ...{ floorS: 1, points, text: 'Steady from 1 s on; at 0.5 s the level is off by 8.0 %.' },
        compared: {
          ...{ cooled: group(-10), uncooled: group(15), pedestalDiffers: false, text: '' },
          points: points.map(({ exposureS, levelsAdu }) => ({
            ...{ exposureS, levelChange: 0, levelDiffers: false, jumpCooled: 0, jumpUncooled: 0, jumpDiffers: false },
            ...{ levelsCooledAdu: levelsAdu, levelsUncooledAdu: levelsAdu },
          })),
        },
      },
    },
  })
  await page.getByRole('button', { name: 'Look for flats that tell it' }).click()
  await page.getByRole('button', { name: 'Find the floor' }).click()
  await page.getByText('Steady from 1 s on').waitFor()
  const figures = await page.getByRole('table', { name: /Heron 11C/ }).innerText()
  expect(figures).toMatch(/dark current doubles every\s+6\.40\s°C\s+6\.20 to 6\.60/)
  expect(figures).toMatch(/full well seen\s+Not told yet\. Flats of three/)
  expect(await page.locator('tr[data-steady]').evaluateAll((rows) => rows.map((row) => row.textContent))).toEqual([
    expect.stringMatching(/^0\.5\ss2460\sADU−8\.0\s%0\.4\s%unsteady$/) as string,
    expect.stringMatching(/^1\ss.*steady$/) as string,
    expect.stringMatching(/^2\ss.*steady$/) as string,
  ])
  expect(await page.locator('figure circle.cooled, figure path.cooled').count()).toBe(6 + 1)
  expect(await sidewaysOverflow(page)).toBe(0)
  expect(await axeFindings(page)).toEqual([])
  await page.getByRole('button', { name: 'Red lamp' }).click()
  expect(await axeFindings(page)).toEqual([])
  expect(await greenOrBluePixels(page)).toBe(0)
  await page.getByRole('button', { name: 'Make 1 s the shortest calibration exposure' }).click()
  await page.getByText('It is in the rules').waitFor()
  const asked = await page.evaluate(() => (window as unknown as { asked: { request: string; input: unknown }[] }).asked)
  expect(asked.filter(({ request }) => /findFloor|setSensorRules/.test(request)).map(({ input }) => input)).toEqual([
    { frames: [1, 2, 3, 4, 5, 6] },
    {
      class: 'glow',
      values: {
        floorS: {
          value: 1,
          reason: expect.stringMatching(/^Measured on 20 November 2026 with Kestrel 294C/) as string,
        },
      },
    },
  ])
  expect(troubles).toEqual([])
})
