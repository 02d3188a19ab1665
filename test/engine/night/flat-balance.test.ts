import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { Engine } from '../../../main/engine/open.ts'
import { normal, random } from '../../integrate/columns.ts'
import { writeFrame } from '../../measure/frames.ts'
import { freshEngine } from '../engines.ts'
import { freshFolder } from '../night-files.ts'

const WIDTH = 64
const HEIGHT = 48
/** Levels of the four pixels of an RGGB pattern, ADU. */
type Light = { R: number; G: number; B: number }
const panel: Light = { R: 22_000, G: 28_000, B: 30_000 }
/** Red fell to half: another lamp. */
const lamp: Light = { R: 10_500, G: 28_000, B: 30_000 }
let seed = 0

function shoot(folder: string, count: number, at: string, light: Light | number, more: Record<string, string> = {}) {
  mkdirSync(folder, { recursive: true })
  for (let i = 0; i < count; i++) {
    const next = random(++seed * 7919)
    const level = (p: number) => {
      if (typeof light === 'number') return light
      const [x, y] = [p % WIDTH, Math.floor(p / WIDTH)]
      return y % 2 === 0 ? (x % 2 === 0 ? light.R : light.G) : x % 2 === 0 ? light.G : light.B
    }
    const pixels = Uint16Array.from({ length: WIDTH * HEIGHT }, (_, p) => level(p) + 20 * normal(next))
    const startedAt = new Date(Date.parse(at) + i * 8_000).toISOString().slice(0, -1)
    const cards = {
      IMAGETYP: typeof light === 'number' ? 'Dark Flat' : 'Flat',
      INSTRUME: 'Heron 11C',
      FILTER: 'Duo',
      ...more,
    }
    writeFrame(join(folder, `${seed}.fits`), WIDTH, pixels, [
      ...Object.entries(cards).map(([keyword, value]) => ({ keyword, value })),
      { keyword: 'GAIN', value: 120 },
      { keyword: 'OFFSET', value: 30 },
      { keyword: 'SET-TEMP', value: -10, real: true },
      { keyword: 'CCD-TEMP', value: -10, real: true },
      { keyword: 'EXPTIME', value: 3.5, real: true },
      { keyword: 'BAYERPAT', value: 'RGGB' },
      { keyword: 'DATE-OBS', value: startedAt },
    ])
  }
}

async function log(engine: Engine, ...folders: string[]) {
  const report = await engine.log(folders)
  await engine.measure(engine.framesOf(report).map((frame) => frame.id))
}
const balance = async (engine: Engine, night = '2026-11-20') =>
  (await engine.ask('tonight', { night })).notices.filter((notice) => notice.rule === 'flat-balance')

test("flats whose colours stand to each other as in no accepted flat of that filter are told, and the filter's first are not", async () => {
  const engine = await freshEngine()
  const nights = freshFolder()
  shoot(join(nights, 'first'), 4, '2026-11-10T07:00:00Z', panel)
  shoot(join(nights, 'second'), 4, '2026-11-20T22:00:00Z', lamp)
  await log(engine, join(nights, 'second'))
  expect(await balance(engine)).toEqual([])
  await log(engine, join(nights, 'first'))
  expect(await balance(engine)).toMatchObject([{ text: 'Duo flats: red is dimmer than usual', frames: 4 }])
  expect(await balance(engine, '2026-11-09')).toEqual([])
}, 60_000)

test('what was built into a master counts before what was merely kept; another body or filter is no measure', async () => {
  const engine = await freshEngine()
  const nights = freshFolder()
  const serial = { SERIALNO: 'B-2' }
  shoot(join(nights, 'built'), 12, '2026-11-08T07:00:00Z', panel)
  shoot(join(nights, 'built'), 12, '2026-11-08T07:20:00Z', 500)
  await log(engine, join(nights, 'built'))
  const { outcome } = await engine.ask('startBuild', { wait: true, least: 10 })
  expect(outcome!.built.map((master) => master.kind)).toEqual(['darkFlat', 'flat'])
  shoot(join(nights, 'kept'), 30, '2026-11-12T07:00:00Z', lamp)
  shoot(join(nights, 'tonight'), 4, '2026-11-20T22:00:00Z', lamp)
  shoot(join(nights, 'tonight'), 4, '2026-11-20T22:10:00Z', lamp, { FILTER: 'Clear' })
  shoot(join(nights, 'tonight'), 4, '2026-11-20T22:20:00Z', lamp, serial)
  await log(engine, join(nights, 'kept'), join(nights, 'tonight'))
  const told = await balance(engine)
  expect(told).toMatchObject([{ frames: 4, why: expect.stringContaining('in accepted flats of this filter 0.78') }])
  const { frame } = await engine.ask('frame', { id: told[0].frameIds[0] })
  expect(frame).toMatchObject({ filter: 'Duo', body: null })
}, 60_000)
