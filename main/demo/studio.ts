import { expose, type Exposure } from './exposure.ts'
import { flatLight } from './panel.ts'
import type { PlannedFrame } from './plan.ts'
import { Random } from './random.ts'
import { larkfield, targets } from './rig.ts'
import { createSensor, heron11c, type Sensor } from './sensor.ts'
import { fieldOf, skyLight, type Field } from './sky.ts'
import { illumination, type Train } from './train.ts'

/** Takes the frames of a plan: keeps the maps that they share, and one set of buffers. Not for two frames at a time. */
export class Studio {
  readonly sensor: Sensor
  readonly train: Train
  readonly seed: number
  #light: Float32Array
  #scratch: Float32Array
  #pixels: Uint16Array
  #fields = new Map<string, Field>()
  /** Only of the filter in use: at full size a map takes 47 MB. */
  #lit: { filter: string; map: Float32Array } | null = null
  #panel: { key: string; map: Float32Array } | null = null

  constructor(size: { width: number; height: number }, seed: number, train: Train = larkfield) {
    this.sensor = createSensor(heron11c, size, seed)
    this.train = train
    this.seed = seed
    const pixels = size.width * size.height
    this.#light = new Float32Array(pixels)
    this.#scratch = new Float32Array(pixels)
    this.#pixels = new Uint16Array(pixels)
  }

  /** The frame's pixels in ADU; overwritten by the next call. */
  take(frame: PlannedFrame): Uint16Array {
    const random = new Random(this.seed, 'frame', frame.number)
    return expose(this.sensor, this.exposureOf(frame), random, this.#pixels, this.#scratch)
  }

  /** What fell on the sensor in this frame: with `expectedAdu`, its truth. `light` is overwritten by the next call. */
  exposureOf(frame: PlannedFrame): Exposure {
    const { settings } = frame
    return {
      exposureS: frame.exposureS,
      sensorTempC: frame.sensorTempC,
      gain: settings.gain,
      offset: settings.offset,
      light: this.#lightOn(frame),
      lightFactor: frame.lightFactor,
    }
  }

  /** Photo-electrons per second from a panel dimmed so that a flat's median comes to `levelAdu`. */
  panelAt(levelAdu: number, shot: { filter: string; exposureS: number; gain: number; offset: number }): Float32Array {
    const key = JSON.stringify([levelAdu, shot])
    // The panel hangs a little askew, as every panel does.
    const panel = { levelAdu, tiltX: 0.012, tiltY: -0.007 }
    if (this.#panel?.key !== key)
      this.#panel = {
        key,
        map: flatLight(this.sensor, this.train, { ...shot, panel }, this.#illumination(shot.filter)),
      }
    return this.#panel.map
  }

  #illumination(filter: string): Float32Array {
    if (this.#lit?.filter !== filter) this.#lit = { filter, map: illumination(this.train, this.sensor, { filter }) }
    return this.#lit.map
  }

  #lightOn(frame: PlannedFrame): Float32Array | null {
    const { filter, gain, offset } = frame.settings
    const { exposureS, levelAdu, pointing } = frame
    if (levelAdu !== null) return this.panelAt(levelAdu, { filter, exposureS, gain, offset })
    if (!pointing || !frame.target) return null
    const target = targets[frame.target]
    const field = this.#fields.get(target.name) ?? fieldOf(target, this.sensor)
    this.#fields.set(target.name, field)
    const view = { field, pointing }
    return skyLight(this.train, this.sensor, filter, view, this.#illumination(filter), this.#light)
  }
}
