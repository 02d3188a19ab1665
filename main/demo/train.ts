import { Random } from './random.ts'
import { smoothField } from './smooth-field.ts'
import type { Sensor } from './sensor.ts'

export type Channel = 'R' | 'G' | 'B'
export type PerChannel = Record<Channel, number>

/** Channel of an RGGB sensor's pixel. */
export const channelAt = (x: number, y: number): Channel => (y & 1 ? (x & 1 ? 'B' : 'G') : x & 1 ? 'G' : 'R')

/** The shadow of a mote, out of focus: a ring for a reflector, a disc for a lens. Places and sizes are fractions of the width. */
export interface Shadow {
  /** Centre: fraction of the width and of the height, from the first stored pixel. */
  x: number
  y: number
  /** Diameter, fraction of the width. */
  diameter: number
  /** Light lost at its darkest, fraction. */
  depth: number
}

export interface Filter {
  name: string
  /** Light of a star or of the panel that passes, by channel, relative to green through the luminance filter. */
  passes: PerChannel
  /** Sky background at the zenith, photo-electrons per second and pixel. */
  skyEPerS: PerChannel
  /** Light of a nebula at one standard deviation of its brightness, photo-electrons per second and pixel. */
  nebulaEPerS: PerChannel
  /** Mottle that interference in the sensor's cover makes of narrow light, relative standard deviation. */
  mottle: number
  shadows: Shadow[]
}

/** What stands before the sensor, as a flat sees it. */
export interface Train {
  telescope: string
  focalMm: number
  apertureMm: number
  /** Light left in a corner through the widest filter, fraction of the centre's. */
  cornerLight: number
  /** Where the light is brightest, fraction of width and height. */
  centre: { x: number; y: number }
  /** On the sensor's window: they stay where they are when the train turns. */
  shadows: Shadow[]
  filters: Filter[]
}

export interface TrainState {
  filter: string
  /** The train before the sensor, turned against it. */
  rotationDeg?: number
  /** Motes that came since, seen through every filter. */
  extraShadows?: Shadow[]
}

export function filterOf(train: Train, name: string): Filter {
  const filter = train.filters.find((f) => f.name === name)
  if (!filter) throw new Error(`The simulated train has no filter "${name}".`)
  return filter
}

/**
 * Relative light on each pixel from an evenly lit field: vignetting, shadows and mottle, 1 where nothing is lost, without
 * the sensor's own response. Row by row.
 */
export function illumination(train: Train, sensor: Sensor, state: TrainState): Float32Array {
  const { width, height } = sensor
  const filter = filterOf(train, state.filter)
  const map = new Float32Array(width * height)
  const turn = turned(width, height, state.rotationDeg ?? 0)
  const centre = turn(train.centre.x * width, train.centre.y * height)
  const corner = Math.hypot(width, height) / 2
  const lost = 1 - train.cornerLight
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const r2 = ((x + 0.5 - centre.x) ** 2 + (y + 0.5 - centre.y) ** 2) / corner ** 2
      // Mostly quadratic, as natural vignetting is, with the tube's edge coming in towards the corners.
      map[y * width + x] = 1 - lost * r2 * (0.7 + 0.3 * r2)
    }
  if (filter.mottle) addMottle(map, sensor, filter)
  for (const shadow of train.shadows) cast(map, width, height, shadow)
  for (const shadow of [...filter.shadows, ...(state.extraShadows ?? [])]) {
    const at = turn(shadow.x * width, shadow.y * height)
    cast(map, width, height, { ...shadow, x: at.x / width, y: at.y / height })
  }
  return map
}

/** A point of the train in pixels, after the train turned about the middle of the sensor. */
function turned(width: number, height: number, rotationDeg: number) {
  const cos = Math.cos((rotationDeg * Math.PI) / 180)
  const sin = Math.sin((rotationDeg * Math.PI) / 180)
  return (x: number, y: number) => {
    const dx = x - width / 2
    const dy = y - height / 2
    return { x: width / 2 + dx * cos - dy * sin, y: height / 2 + dx * sin + dy * cos }
  }
}

/** Mottle belongs to the sensor's cover: same place in every flat, by channel, some 40 to 150 px across. */
function addMottle(map: Float32Array, sensor: Sensor, filter: Filter): void {
  const { width, height } = sensor
  const fields = { R: 0, G: 1, B: 2 }
  const surfaces = Object.keys(fields).map((c) => smoothField(new Random(sensor.seed, 'mottle', filter.name, c)))
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const surface = surfaces[fields[channelAt(x, y)]]
      const value = 0.8 * surface.at(x / 90, y / 90) + 0.6 * surface.at(7.3 + x / 37, 2.1 + y / 37)
      map[y * width + x] *= 1 + filter.mottle * value
    }
}

/** A disc with a soft edge and a slightly lighter middle. */
function cast(map: Float32Array, width: number, height: number, shadow: Shadow): void {
  const radius = Math.max(1.5, (shadow.diameter * width) / 2)
  const cx = shadow.x * width
  const cy = shadow.y * height
  const reach = radius * 1.25
  const left = Math.max(0, Math.floor(cx - reach))
  const right = Math.min(width - 1, Math.ceil(cx + reach))
  for (let y = Math.max(0, Math.floor(cy - reach)); y <= Math.min(height - 1, Math.ceil(cy + reach)); y++)
    for (let x = left; x <= right; x++) {
      const r = Math.hypot(x + 0.5 - cx, y + 0.5 - cy) / radius
      if (r >= 1.25) continue
      const edge = r < 0.85 ? 1 : 0.5 + 0.5 * Math.cos((Math.PI * (r - 0.85)) / 0.4)
      const middle = 1 - 0.25 * Math.exp(-((r / 0.35) ** 2))
      map[y * width + x] *= 1 - shadow.depth * edge * middle
    }
}
