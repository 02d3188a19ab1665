/**
 * Check flat, check dark and proof on whole frames of 4144 × 2822, through the built program's own thread: medians of rounds, and the
 * processor time of all threads, which tells more on a machine that others use too.
 * `node test/bench/inspect.ts [ROUNDS=5]` after a build. The bar: each within 1.5 s, reading, writing and syncing included.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expose, type Exposure } from '../../main/demo/exposure.ts'
import { encodeMaster } from '../../main/demo/frame-file.ts'
import { cameraCards } from '../../main/demo/header.ts'
import { shelf } from '../../main/demo/library.ts'
import { Random } from '../../main/demo/random.ts'
import { larkfield, targets } from '../../main/demo/rig.ts'
import { fieldOf, skyLight } from '../../main/demo/sky.ts'
import { Studio } from '../../main/demo/studio.ts'
import { illumination } from '../../main/demo/train.ts'
import { encodeFits } from '../../main/fits/write.ts'
import { defaultFlatLimits } from '../../main/inspect/check-flat.ts'
import { createInspector } from '../../main/inspect/inspector.ts'

const ROUNDS = Number(process.argv[2] ?? 5)
const size = { width: 4144, height: 2822 }
const folder = mkdtempSync(join(tmpdir(), 'inspect-bench-'))
const studio = new Studio(size, 7)
const night = '2026-11-20'

function master(file: string): string {
  const path = join(folder, file)
  writeFileSync(
    path,
    encodeMaster(
      studio,
      shelf.find((one) => one.file === file)!,
      night,
    ),
  )
  return path
}

function shoot(name: string, imageType: string, exposureS: number, light: Float32Array | null): string {
  const exposure: Exposure = { exposureS, sensorTempC: -10, gain: 100, offset: 30, light }
  const about = {
    ...exposure,
    imageType,
    setTempC: -10,
    filter: 'dual-band',
    startedAtMs: Date.parse(`${night}T22:00:00Z`),
  }
  const image = expose(studio.sensor, exposure, new Random(7, name), new Uint16Array(size.width * size.height))
  const cards = cameraCards(studio.sensor, larkfield, about)
  const path = join(folder, name)
  writeFileSync(path, encodeFits({ ...size, bitpix: 16, unsigned: true, cards, image, checksum: false }))
  return path
}

function sky(): Float32Array {
  const lit = illumination(larkfield, studio.sensor, { filter: 'dual-band' })
  const pointing = { dx: 3, dy: -2, flipped: false, fwhmPx: 3, skyFactor: 1, transparency: 1 }
  const view = { field: fieldOf(targets.weir, studio.sensor), pointing }
  return skyLight(larkfield, studio.sensor, 'dual-band', view, lit, new Float32Array(lit.length))
}

const script = new URL('../../out/main/inspect-worker.js', import.meta.url)
const inspector = createInspector({ script })
try {
  const [flat, darkFlat, dark] = [
    'master-flat-dual-band.fits',
    'master-dark-flat-006s.fits',
    'master-dark-300s.fits',
  ].map((file) => ({ path: master(file) }))
  const panel = studio.panelAt(27_500, { filter: 'dual-band', exposureS: 6, gain: 100, offset: 30 })
  const fresh = { path: shoot('flat.fits', 'FLAT', 6, panel) }
  const freshDark = { path: shoot('dark.fits', 'DARK', 300, null) }
  const light = { path: shoot('light.fits', 'LIGHT', 300, sky()) }
  const file = {
    out: join(folder, 'proof.fits'),
    program: 'bench',
    madeAt: new Date().toISOString(),
    history: ['bench'],
  }
  const work = {
    'check flat': () =>
      inspector.flat({ fresh, darkFlat, master: { ...flat, less: null }, cfa: true, limits: defaultFlatLimits }),
    'check dark': () => inspector.dark({ fresh: freshDark, master: dark, cfa: true }),
    'proof without a file': () =>
      inspector.proof({ light, dark, flat: { ...flat, less: null }, cfa: 'RGGB', file: null }),
    'proof, written and synced': () =>
      inspector.proof({ light, dark, flat: { ...flat, less: null }, cfa: 'RGGB', file }),
  }
  for (const [name, run] of Object.entries(work)) {
    const times: number[] = []
    const before = process.cpuUsage()
    for (let round = 0; round <= ROUNDS; round++) {
      const start = performance.now()
      await run()
      // The first round starts the thread and warms it up: told apart.
      times.push(performance.now() - start)
    }
    const { user, system } = process.cpuUsage(before)
    const cpuMs = (user + system) / 1000 / (ROUNDS + 1)
    const [first, ...rest] = times
    rest.sort((a, b) => a - b)
    console.log(
      `${name.padEnd(28)} median ${rest[ROUNDS >> 1].toFixed(0)} ms  (${rest[0].toFixed(0)} to ${rest[ROUNDS - 1].toFixed(0)}; first ${first.toFixed(0)}), processor ${cpuMs.toFixed(0)} ms`,
    )
  }
} finally {
  await inspector.close()
  rmSync(folder, { recursive: true })
}
