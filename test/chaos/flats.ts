/**
 * Check flats of whole frames (4144 × 2822) of the simulated camera against what was planted: 200 clean ones, motes of 0.5 to 5 %, the
 * train turned by 2°, a brighter panel. The ordinary tests do the same on small frames.
 * npm run chaos -- flats [--trials N]
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expose } from '../../main/demo/exposure.ts'
import { encodeMaster } from '../../main/demo/frame-file.ts'
import { flatLight, type FlatShot, type Panel } from '../../main/demo/panel.ts'
import { Random } from '../../main/demo/random.ts'
import { larkfield } from '../../main/demo/rig.ts'
import { Studio } from '../../main/demo/studio.ts'
import { illumination, type Shadow } from '../../main/demo/train.ts'
import { checkFlat } from '../../main/inspect/check-flat.ts'
import { readPlane, type FloatPlane } from '../../main/inspect/plane-file.ts'

export const size = { width: 4144, height: 2822 }
export const SEED = 7
const filter = 'dual-band'
const camera = { exposureS: 6, gain: 100, offset: 30, sensorTempC: -10 }
/** One per cent and deeper must be found, each time; half a per cent is within what a flat may differ by. */
const depths = [0.01, 0.015, 0.02, 0.03, 0.05]
const plantedFrames = 20

interface Shot {
  panel?: Partial<Panel>
  shadows?: Shadow[]
  rotationDeg?: number
}

export function main(args: string[]): number {
  const trials = Number(args[args.indexOf('--trials') + 1]) || 200
  const take = camp()
  const faults: string[] = []
  const random = new Random(SEED, 'trials')
  const expect = (holds: boolean, what: string) => void (holds || faults.push(what))

  for (let n = 0; n < trials; n++) {
    const panel = {
      levelAdu: 27_500 * random.between(0.85, 1.15),
      tiltX: random.between(-0.03, 0.03),
      tiltY: random.between(-0.03, 0.03),
    }
    const { holds, findings, text } = take(`clean ${n}`, { panel })
    const invented = findings.filter(({ what }) => what !== 'tilt')
    expect(holds && invented.length === 0, `clean trial ${n}: ${text} ${JSON.stringify(invented)}`)
    if ((n + 1) % 20 === 0) console.log(`${n + 1} clean trials, ${faults.length} faults`)
  }

  let [found, invented, worstAway, worstDepth] = [0, 0, 0, 0]
  for (let n = 0; n < plantedFrames; n++) {
    const shadows = scatter(random)
    const spots = take(`motes ${n}`, { shadows }).findings.filter(({ what }) => what === 'shadow-new')
    for (const mote of shadows) {
      const at = { x: mote.x * size.width - 0.5, y: mote.y * size.height - 0.5 }
      const distance = (spot: (typeof spots)[number]) => Math.hypot(spot.where!.x - at.x, spot.where!.y - at.y)
      const nearest = spots.toSorted((a, b) => distance(a) - distance(b))[0]
      const reach = (mote.diameter * size.width) / 2
      const isFound = nearest !== undefined && distance(nearest) < Math.max(reach, 25)
      expect(isFound, `frame ${n}: a mote of ${100 * mote.depth} %, ${Math.round(2 * reach)} px wide, was not found`)
      if (!isFound) continue
      found++
      worstAway = Math.max(worstAway, distance(nearest))
      worstDepth = Math.max(worstDepth, Math.abs(nearest.depth / mote.depth - 1))
    }
    invented += Math.max(0, spots.length - shadows.length)
  }
  expect(worstDepth < 0.25, `depths are off by up to ${(100 * worstDepth).toFixed(0)} %`)
  expect(invented === 0, `${invented} shadows beside those that were planted`)
  console.log(
    `${found} of ${plantedFrames * depths.length} motes of 1 to 5 % found, at most ${worstAway.toFixed(0)} px away, depth at most ${(100 * worstDepth).toFixed(0)} % off; ${invented} invented`,
  )

  const faint = scatter(random).map((mote) => ({ ...mote, depth: 0.005 }))
  expect(take('faint', { shadows: faint }).holds, 'motes of 0.5 % do not hold')
  expect(!take('turned', { rotationDeg: 2 }).holds, 'a train turned by 2° holds')
  const brighter = take('brighter', { panel: { levelAdu: 35_000 } })
  expect(brighter.holds && brighter.findings.length === 0, `a brighter panel alone: ${brighter.text}`)

  for (const fault of faults) console.log(`FAULT ${fault}`)
  console.log(`flats: ${trials} clean trials, ${plantedFrames * depths.length} motes, ${faults.length} faults`)
  return faults.length ? 1 : 0
}

/** The master and its dark flat once; then one flat after another. */
function camp() {
  const studio = new Studio(size, SEED)
  const [flat, darkFlat] = [
    masterOf(studio, { file: 'flat.fits', kind: 'flat', filter, levelAdu: 27_500, frames: 25 }),
    masterOf(studio, { file: 'dark-flat.fits', kind: 'darkFlat', frames: 20 }),
  ]
  const usual = illumination(larkfield, studio.sensor, { filter })
  const raw = new Uint16Array(size.width * size.height)
  const fresh: FloatPlane = { ...flat, data: new Float32Array(raw.length) }
  return (name: string, { panel, shadows, rotationDeg }: Shot) => {
    const shot: FlatShot = {
      ...camera,
      filter,
      rotationDeg,
      extraShadows: shadows,
      panel: { levelAdu: 27_500, tiltX: 0.012, tiltY: -0.007, ...panel },
    }
    const lit = shadows || rotationDeg ? illumination(larkfield, studio.sensor, shot) : usual
    const light = flatLight(studio.sensor, larkfield, shot, lit)
    expose(studio.sensor, { ...camera, light }, new Random(SEED, name), raw)
    for (let i = 0; i < raw.length; i++) fresh.data[i] = raw[i] - darkFlat.data[i]
    return checkFlat(fresh, flat)
  }
}

type Planned = Parameters<typeof encodeMaster>[1]
type Wanted = Pick<Planned, 'file' | 'kind' | 'frames'> & Partial<Planned>

/** A master of the simulated camera, as it is read from a file. */
export function masterOf(studio: Studio, wanted: Wanted): FloatPlane {
  const folder = mkdtempSync(join(tmpdir(), 'nightshelf-flats-'))
  try {
    const path = join(folder, wanted.file)
    const { exposureS, gain, offset } = camera
    const about = { tells: '', daysBefore: 30, tempC: -10, stored: 'float32' as const, exposureS, gain, offset }
    writeFileSync(path, encodeMaster(studio, { ...about, ...wanted }, '2026-11-20'))
    return readPlane({ path }, true)
  } finally {
    rmSync(folder, { recursive: true })
  }
}

/** A mote of each depth, 40 to 250 px wide, well apart from each other and from what the master has. */
function scatter(random: Random): Shadow[] {
  const taken: Pick<Shadow, 'x' | 'y'>[] = [...larkfield.shadows, ...larkfield.filters.flatMap((one) => one.shadows)]
  return depths.map((depth) => {
    for (;;) {
      const mote = {
        x: random.between(0.06, 0.94),
        y: random.between(0.08, 0.92),
        diameter: random.between(0.01, 0.06),
        depth,
      }
      const isFree = taken.every(
        (other) => Math.hypot((mote.x - other.x) * size.width, (mote.y - other.y) * size.height) > 380,
      )
      if (!isFree) continue
      taken.push(mote)
      return mote
    }
  })
}
