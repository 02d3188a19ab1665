import { nebulaOf, type Nebula } from './nebula.ts'
import { Random } from './random.ts'
import type { Sensor } from './sensor.ts'
import { channelAt, filterOf, type Channel, type Train } from './train.ts'

/** A place in the simulated sky. */
export interface Target {
  name: string
  /** Right ascension and declination as headers write them: 'HH MM SS', '+DD MM SS'. */
  ra: string
  dec: string
  starsPerMpx: number
  /** How much of the filter's nebula light is here; 0 for a bare field. */
  nebula: number
}

/** How the telescope looked at it in one exposure. */
export interface Pointing {
  /** Shift of the field against its mean place, pixels: dithering and drift. */
  dx: number
  dy: number
  /** After the mount's flip the field stands upside down. */
  flipped: boolean
  /** Full width of a star at half its height, pixels: seeing, focus and tracking together. */
  fwhmPx: number
  /** Sky brightness over the zenith's on a dark night, and what haze leaves of the stars. */
  skyFactor: number
  transparency: number
}

export interface Star {
  /** Before any shift or flip, pixels from the first stored pixel's corner. */
  x: number
  y: number
  /** Photo-electrons per second of a green pixel's channel through the luminance filter. */
  fluxEPerS: number
  /** Red over green, and blue over green, relative to a white star. */
  red: number
  blue: number
}

/** Stars lie this far beyond the frame too, so that shifts bring new ones in. */
const MARGIN_PX = 48
const FAINTEST_E_PER_S = 2.5
const BRIGHTEST_E_PER_S = 90_000
/** Moffat's profile with exponent 3 (A. Moffat 1969): closer to real stars than a Gaussian, and cheap. */
const FAINTEST_WING_E_PER_S = 0.01
const WIDEST_STAR_PX = 70

/** A target's stars and nebula: the same for one seed and size, whatever looks at them. */
export interface Field {
  target: Target
  stars: Star[]
  nebula: Nebula | null
}

export const fieldOf = (target: Target, sensor: Sensor): Field => ({
  target,
  stars: starsOf(target, sensor),
  nebula: target.nebula > 0 ? nebulaOf(target.name, sensor, sensor.seed) : null,
})

function starsOf(target: Target, sensor: Sensor): Star[] {
  const random = new Random(sensor.seed, 'stars', target.name)
  const width = sensor.width + 2 * MARGIN_PX
  const height = sensor.height + 2 * MARGIN_PX
  return Array.from({ length: Math.round((width * height * target.starsPerMpx) / 1e6) }, () => {
    const warmth = random.gaussian() * 0.18
    return {
      x: random.uniform() * width - MARGIN_PX,
      y: random.uniform() * height - MARGIN_PX,
      fluxEPerS: Math.min(BRIGHTEST_E_PER_S, FAINTEST_E_PER_S / (1 - random.uniform())),
      red: Math.exp(warmth),
      blue: Math.exp(-warmth),
    }
  })
}

/**
 * Photo-electrons per second that sky, nebula and stars bring to each pixel, the sensor's own response left out.
 * @param illumination of the train's state, from `illumination()`
 * @param light overwritten; as long as the sensor has pixels
 */
export function skyLight(
  train: Train,
  sensor: Sensor,
  filterName: string,
  view: { field: Field; pointing: Pointing },
  illumination: Float32Array,
  light: Float32Array,
): Float32Array {
  const filter = filterOf(train, filterName)
  const { width, height } = sensor
  const { pointing, field } = view
  const { nebula, target } = field
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const channel = channelAt(x, y)
      // Brighter towards the horizon, which the flip does not move against the ground.
      const slope = 1 + 0.05 * (y / height - 0.5) + 0.03 * (x / width - 0.5)
      let value = filter.skyEPerS[channel] * pointing.skyFactor * slope
      if (nebula) {
        const u = pointing.flipped ? width - (x - pointing.dx) : x - pointing.dx
        const v = pointing.flipped ? height - (y - pointing.dy) : y - pointing.dy
        value += target.nebula * filter.nebulaEPerS[channel] * pointing.transparency * nebula.at(u, v)
      }
      light[y * width + x] = value
    }
  for (const star of field.stars) addStar(light, width, height, star, pointing, filter.passes)
  for (let i = 0; i < light.length; i++) light[i] *= illumination[i]
  return light
}

function addStar(
  light: Float32Array,
  width: number,
  height: number,
  star: Star,
  pointing: Pointing,
  passes: Record<Channel, number>,
): void {
  const cx = (pointing.flipped ? width - star.x : star.x) + pointing.dx
  const cy = (pointing.flipped ? height - star.y : star.y) + pointing.dy
  const core2 = pointing.fwhmPx ** 2 / (4 * (2 ** (1 / 3) - 1))
  const flux = star.fluxEPerS * pointing.transparency
  const peak = (2 * flux) / (Math.PI * core2)
  const brightest = peak * Math.max(passes.R * star.red, passes.G, passes.B * star.blue)
  if (brightest < FAINTEST_WING_E_PER_S) return
  const reach = Math.min(WIDEST_STAR_PX, Math.sqrt(core2 * (Math.cbrt(brightest / FAINTEST_WING_E_PER_S) - 1)))
  const colour = { R: passes.R * star.red, G: passes.G, B: passes.B * star.blue }
  const right = Math.min(width - 1, Math.floor(cx + reach))
  const bottom = Math.min(height - 1, Math.floor(cy + reach))
  for (let y = Math.max(0, Math.ceil(cy - reach)); y <= bottom; y++)
    for (let x = Math.max(0, Math.ceil(cx - reach)); x <= right; x++) {
      const falls = 1 + ((x + 0.5 - cx) ** 2 + (y + 0.5 - cy) ** 2) / core2
      light[y * width + x] += (peak * colour[channelAt(x, y)]) / (falls * falls * falls)
    }
}
