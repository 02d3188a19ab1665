import type { Settings, Tolerances } from '../contract/index.ts'

/** Decimal headers are not binary: 10.5 − 10 may come out a hair over 0.5. */
const hair = 1e-9

export type Closeness = 'within' | 'near' | 'beyond'

/** A sensor temperature, measured where it is, else the set point; null where neither is known. °C */
export const temperatureOf = (s: Pick<Settings, 'sensorTempC' | 'setTempC'>) => s.sensorTempC ?? s.setTempC

/** The field that a temperature difference is named by: the measured one unless both sides have the set point only. */
export const temperatureField = (
  a: Pick<Settings, 'sensorTempC'>,
  b: Pick<Settings, 'sensorTempC'>,
): 'sensorTempC' | 'setTempC' => (a.sensorTempC === null && b.sensorTempC === null ? 'setTempC' : 'sensorTempC')

export function temperatureCloseness(a: number, b: number, t: Tolerances): Closeness {
  const apart = Math.abs(a - b)
  return apart <= t.tempC + hair ? 'within' : apart <= t.nearTempC + hair ? 'near' : 'beyond'
}

/** @param light exposure of the frame that is to be calibrated, s: fractions are of this one */
export function exposureCloseness(light: number, master: number, nearFraction: number, t: Tolerances): Closeness {
  const apart = Math.abs(light - master)
  if (apart <= Math.max(t.exposureS, light * t.exposureFraction) + hair) return 'within'
  return apart <= light * nearFraction + hair ? 'near' : 'beyond'
}

/** Smallest turn between two angles, 0…180°. */
export function turnDeg(a: number, b: number): number {
  const turn = Math.abs(a - b) % 360
  return turn > 180 ? 360 - turn : turn
}
