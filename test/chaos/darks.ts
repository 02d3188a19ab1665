/**
 * Check darks of whole frames (4144 × 2822) of the simulated camera against what was planted: clean ones within the half degree that
 * matches, a step of the level, a light leak, a warmer sensor, pixels that became hot, another body.
 * npm run chaos -- darks [--trials N]
 */
import { expose, type Exposure } from '../../main/demo/exposure.ts'
import { Random } from '../../main/demo/random.ts'
import { Studio } from '../../main/demo/studio.ts'
import { checkDark, type DarkFinding } from '../../main/inspect/check-dark.ts'
import type { FloatPlane } from '../../main/inspect/plane-file.ts'
import { masterOf, SEED, size } from './flats.ts'

const usual: Exposure = { exposureS: 300, sensorTempC: -10, gain: 100, offset: 30, light: null }

export function main(args: string[]): number {
  const trials = Number(args[args.indexOf('--trials') + 1]) || 40
  const studio = new Studio(size, SEED)
  const master = masterOf(studio, { file: 'dark.fits', kind: 'dark', exposureS: 300, frames: 30 })
  const fresh: FloatPlane = { ...master, data: new Float32Array(master.data.length) }
  const raw = new Uint16Array(master.data.length)
  const random = new Random(SEED, 'darks')
  const take = (name: string, change: Partial<Exposure>, of = studio, spoil: (at: number) => number = () => 0) => {
    expose(of.sensor, { ...usual, ...change }, new Random(SEED, name), raw)
    for (let i = 0; i < raw.length; i++) fresh.data[i] = raw[i] + spoil(i)
    return checkDark(fresh, master)
  }
  const faults: string[] = []
  for (let n = 0; n < trials; n++) {
    const sensorTempC = -10 + random.between(-0.4, 0.4)
    const { holds, text } = take(`clean ${n}`, { sensorTempC })
    if (!holds) faults.push(`clean trial ${n} at ${sensorTempC.toFixed(2)} °C: ${text}`)
    if ((n + 1) % 10 === 0) console.log(`${n + 1} clean trials, ${faults.length} faults`)
  }
  const planted: [string, DarkFinding['what'], ReturnType<typeof checkDark>][] = [
    ['a driver that adds 6 ADU', 'pedestal', take('driver', { pedestalStepAdu: 6 })],
    ['a cover that lets light in', 'glow-shape', take('leak', { leakEPerS: 0.03 })],
    ['a sensor 1 °C warmer', 'dark-signal', take('warm', { sensorTempC: -9 })],
    ['three new hot pixels in 10 000', 'hot-new', take('hot', {}, studio, (i) => (i % 3_333 === 7 ? 1_500 : 0))],
    ['another body', 'another-sensor', take('other', {}, new Studio(size, SEED + 1))],
  ]
  for (const [what, finding, { findings, text }] of planted) {
    console.log(`${what}: ${text}`)
    if (!findings.some((one) => one.what === finding)) faults.push(`${what}: no ${finding} was found`)
  }
  for (const fault of faults) console.log(`FAULT ${fault}`)
  console.log(`darks: ${trials} clean trials, ${planted.length} planted changes, ${faults.length} faults`)
  return faults.length ? 1 : 0
}
