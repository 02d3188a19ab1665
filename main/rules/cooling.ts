import type { Frame } from '../contract/index.ts'
import { isUsable, isWhole } from '../match/raw.ts'
import { startMs } from './cadence.ts'

/** A sensor this steady (°C) for this long (s) has stopped cooling, wherever it stands. */
const steadyC = 0.2
const steadyS = 15 * 60

/** A frame off the set point after the sensor had settled. */
export interface Off {
  frame: Frame
  tempC: number
  setC: number
}

/** How the sensor of one rig kept its temperature over a night. */
export interface Cooling {
  /** Whether any frame names a set point: a camera with a cooler. */
  cooled: boolean
  /** Ids of frames taken while it was still cooling down (or warming up) to its set point. */
  settling: ReadonlySet<number>
  off: Off[]
}

/**
 * Settled is a sensor once it has been at its set point, or has stood still for a quarter of an hour short of it (a cooler at its
 * limit). A new set point begins anew: cooling down is no fault, and neither is warming up at the end. No set point in a header
 * after there was one means that the cooler is off, and the old one still stands for what was wanted.
 * @param frames of one rig, in order of time
 */
export function watchCooling(frames: readonly Frame[], toleranceC: number): Cooling {
  const settling = new Set<number>()
  const off: Off[] = []
  let setC: number | null = null
  let settled = false
  let steady: { sinceMs: number; tempC: number } | null = null
  for (const frame of frames) {
    const tempC = frame.sensorTempC
    const atMs = startMs(frame)
    if (frame.setTempC !== null && frame.setTempC !== setC) {
      setC = frame.setTempC
      settled = false
      steady = null
    }
    if (setC === null || tempC === null || Number.isNaN(atMs) || !isWhole(frame)) continue
    const isOff = Math.abs(tempC - setC) > toleranceC + 1e-9
    if (!steady || Math.abs(tempC - steady.tempC) > steadyC) steady = { sinceMs: atMs, tempC }
    settled ||= !isOff || atMs - steady.sinceMs >= steadyS * 1000
    if (!settled) settling.add(frame.id)
    else if (isOff && isUsable(frame)) off.push({ frame, tempC, setC })
  }
  return { cooled: setC !== null, settling, off }
}
