import type { Sensor } from './sensor.ts'
import { channelAt, filterOf, type Train } from './train.ts'

/** A flat panel before the telescope. */
export interface Panel {
  /** Photo-electrons per second of a green pixel through the luminance filter, at the middle. */
  brightnessEPerS: number
  /** Brightness gained from the left edge to the right, and from top to bottom, fraction: no panel hangs quite level. */
  tiltX?: number
  tiltY?: number
  /** Colour of the panel's light: what a channel gets over what it would from even light. */
  balance?: { R: number; G: number; B: number }
  /** Stars that wander through a flat of the sky: how many trails, and electrons per second along each. */
  starTrails?: { count: number; lengthPx: number; electronsPerS: number }
}

/**
 * Photo-electrons per second that the panel brings to each pixel, the sensor's own response left out.
 * @param illumination of the same train state, from `illumination()`
 */
export function panelLight(
  train: Train,
  sensor: Sensor,
  filterName: string,
  panel: Panel,
  illumination: Float32Array,
): Float32Array {
  const { width, height } = sensor
  const { passes } = filterOf(train, filterName)
  const balance = panel.balance ?? { R: 1, G: 1, B: 1 }
  const light = new Float32Array(width * height)
  for (let y = 0; y < height; y++) {
    const down = 1 + (panel.tiltY ?? 0) * ((y + 0.5) / height - 0.5)
    for (let x = 0; x < width; x++) {
      const channel = channelAt(x, y)
      const across = 1 + (panel.tiltX ?? 0) * ((x + 0.5) / width - 0.5)
      const i = y * width + x
      light[i] = panel.brightnessEPerS * passes[channel] * balance[channel] * down * across * illumination[i]
    }
  }
  if (panel.starTrails) addTrails(light, width, height, panel.starTrails)
  return light
}

/** Parallel trails, evenly strewn, so that a test knows where they are. */
function addTrails(light: Float32Array, width: number, height: number, trails: NonNullable<Panel['starTrails']>): void {
  for (let n = 0; n < trails.count; n++) {
    const x0 = Math.floor(width * (((n + 0.5) * 0.618034) % 1))
    const y0 = Math.floor((height * (n + 0.5)) / trails.count)
    for (let step = 0; step < trails.lengthPx; step++) {
      const x = x0 + step
      const y = y0 + Math.floor(step / 4)
      if (x < width && y < height) light[y * width + x] += trails.electronsPerS
    }
  }
}
