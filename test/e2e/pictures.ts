/**
 * Takes the README's pictures from the demo night, played live at speed: `npm run pictures` (after `npm run build`).
 * Tonight is taken in mid-night, the other places when the night is over.
 */
import { mkdirSync, mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { Host, runCommandLine } from './support/host.ts'
import { launchChromium } from './support/chromium.ts'

const out = fileURLToPath(new URL('./pictures/', import.meta.url))
const work = mkdtempSync(join(tmpdir(), 'nightshelf-pictures-'))
const data = join(work, 'data')
const demo = join(work, 'demo')
const capture = join(demo, 'capture')
mkdirSync(out, { recursive: true })

const playing = runCommandLine(data, 'demo', demo, '--live', '--speed', '600')
const library = join(demo, 'library')
for (let k = 0; k < 300 && !hasMasters(); k++) await pause(300)
await pause(2_000)
await runCommandLine(data, 'library', 'add', ...readdirSync(library).map((name) => join(library, name)))

const host = await Host.start({ data, args: ['--watch', capture] })
const browser = await launchChromium()
const page = await browser.newPage({
  viewport: { width: 1280, height: 860 },
  timezoneId: 'America/Noronha',
  locale: 'en-GB',
})
await page.goto(host.address)
await page.locator('h1').first().waitFor()

const lights = page.getByText(/Light 3\d/).first()
await lights.waitFor({ timeout: 120_000 })
await shootTonight('tonight')
await look('red-lamp')
await shootTonight('tonight-red-lamp')
await look('warm')

const { code, stderr } = await playing
if (code !== 0) throw new Error(stderr)
await pause(8_000)
for (const place of ['shelf', 'flats', 'nights', 'settings']) {
  await page.evaluate((hash) => void (location.hash = hash), `#/${place}`)
  await pause(2_000)
  await shoot(place)
}

await browser.close()
await host.stop()
rmSync(work, { recursive: true, force: true })

function hasMasters(): boolean {
  try {
    return readdirSync(library).length >= 9
  } catch {
    return false
  }
}

async function shoot(name: string): Promise<void> {
  await page.screenshot({ path: join(out, `${name}.png`) })
}

/** At this speed a light lands twice a second: taken in a moment in which the picture of the latest is there. */
async function shootTonight(name: string): Promise<void> {
  const drawn = page.locator('main canvas').first()
  do {
    await drawn.waitFor({ timeout: 60_000 })
    await shoot(name)
  } while (!(await drawn.isVisible()))
}

async function look(name: string): Promise<void> {
  await page.goto(`${host.origin}/?look=${name}#/tonight`)
  await page.locator('[data-verdict]').first().waitFor()
}

function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms))
}
