import type { Random } from './random.ts'
import { expose } from './exposure.ts'
import { electronsPerAdu, pedestalAdu, type Sensor } from './sensor.ts'
import { channelAt, filterOf, illumination, type PerChannel, type Train, type TrainState } from './train.ts'

/** A flat panel before the telescope (or a twilight sky, with its stars). */
export interface Panel {
  /** Its dimmer is set so that a flat's median comes to this level: ADU in the file, pedestal included. */
  levelAdu: number
  /** Brightness gained from the left edge to the right, and from top to bottom, as fractions: no panel hangs quite level. */
  tiltX?: number
  tiltY?: number
  /** Colour of its light: what a channel gets over what it would from even light. */
  balance?: PerChannel
  /** Stars that wander through a flat of the sky: how many trails, and electrons per second along each. */
  starTrails?: { count: number; lengthPx: number; electronsPerS: number }
}

/** Everything that a flat depends on; what is left out is as the train was when it was last in order. */
export interface FlatShot extends TrainState {
  panel: Panel
  exposureS: number
  gain: number
  offset: number
}

/**
 * Photo-electrons per second that the panel brings to each pixel, the sensor's own response left out.
 * @param lit of the same train state, where the caller has it already
 */
export function flatLight(
  sensor: Sensor,
  train: Train,
  shot: FlatShot,
  lit = illumination(train, sensor, shot),
): Float32Array {
  const { width, height, parameters } = sensor
  const { passes } = filterOf(train, shot.filter)
  const { levelAdu, tiltX = 0, tiltY = 0, balance = { R: 1, G: 1, B: 1 }, starTrails } = shot.panel
  const light = new Float32Array(width * height)
  for (let y = 0; y < height; y++) {
    const down = 1 + tiltY * ((y + 0.5) / height - 0.5)
    for (let x = 0; x < width; x++) {
      const channel = channelAt(x, y)
      const across = 1 + tiltX * ((x + 0.5) / width - 0.5)
      light[y * width + x] = passes[channel] * balance[channel] * down * across * lit[y * width + x]
    }
  }
  const wantedE = (levelAdu - pedestalAdu(parameters, shot.offset)) * electronsPerAdu(parameters, shot.gain)
  const dimmer = wantedE / shot.exposureS / sampledMedian(light)
  for (let i = 0; i < light.length; i++) light[i] *= dimmer
  if (starTrails) addTrails(light, width, height, starTrails)
  return light
}

/** One flat of a light from `flatLight`, in ADU. `lightFactor` is the panel's brightness over the one that was set. */
export function takeFlat(
  sensor: Sensor,
  shot: FlatShot & { sensorTempC: number; lightFactor?: number; pedestalStepAdu?: number },
  light: Float32Array,
  random: Random,
): Uint16Array {
  return expose(sensor, { ...shot, light }, random, new Uint16Array(light.length))
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

/** Median of up to some hundred thousand pixels, all four places of the colour filter array alike. */
function sampledMedian(map: Float32Array): number {
  const stride = Math.max(1, Math.floor(map.length / 200_000)) | 1
  const sample = new Float32Array(Math.ceil(map.length / stride)).map((_, n) => map[n * stride]).sort()
  return sample[sample.length >> 1]
}
