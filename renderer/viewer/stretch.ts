/** Levels of an image that a curve is laid through, in its own units. */
export interface StretchLevels {
  min: number
  max: number
  median: number
  /** 1.4826 × median absolute deviation. */
  noise: number
  /** Above this lie 0.1 % of the pixels. */
  bright: number
}

/** From a value to a place in a table of brightness. */
export interface Curve {
  dark: number
  bright: number
  /** Brightness from 0 to 255 for equal steps from `dark` to `bright`. */
  table: Uint8Array
}

const STEPS = 65_536
/** So far below the median of the sky lies nothing but its own noise: one pixel in 30 000. */
const NOISES_BELOW = 4
/** A picture of one level only, or nearly so, is not torn apart to black and white. */
const LEAST_NOISES = 20

/** Brightness of the median, of 1, as the slider stands at first. */
export const USUAL_BRIGHTNESS = 0.2

/**
 * Brightened for viewing: from four times the noise below the median to the brightest 0.1 %, through an asinh curve (Lupton et al.
 * 2004, PASP 116, 133) that shows the median at `brightness`. One curve for all colours.
 * @param brightness of the median, between 0 and 1
 */
export function brightened(levels: StretchLevels, brightness: number): Curve {
  const { min, max, median, noise } = levels
  const dark = Math.max(min, median - NOISES_BELOW * noise)
  const bright = Math.max(Math.min(max, Math.max(levels.bright, dark + LEAST_NOISES * noise)), dark + tiny(dark))
  return { dark, bright, table: tabulate(curveThrough((median - dark) / (bright - dark), brightness)) }
}

/** From 0 to 1, with `t` shown at `wanted`: an asinh curve that lifts it, or a power that lowers it. */
function curveThrough(t: number, wanted: number): (t: number) => number {
  if (!(t > 0)) return (other) => other
  if (t >= wanted) {
    const power = t < 1 ? Math.log(wanted) / Math.log(t) : 1
    return (other) => other ** power
  }
  const softening = softeningFor(t, wanted)
  const top = Math.asinh(1 / softening)
  return (other) => Math.asinh(other / softening) / top
}

/** As it is: brightness in proportion to the value. */
export const linear = (dark: number, bright: number): Curve => ({
  dark,
  bright: Math.max(bright, dark + tiny(dark)),
  table: tabulate((t) => t),
})

const tiny = (value: number) => Math.max(1e-12, 1e-6 * Math.abs(value))

const tabulate = (curve: (t: number) => number): Uint8Array =>
  Uint8Array.from({ length: STEPS }, (_, i) => Math.round(255 * curve(i / (STEPS - 1))))

/** The softening with which `t` comes out at `wanted`, which is brighter. */
function softeningFor(t: number, wanted: number): number {
  let low = 1e-8
  let high = 100
  for (let i = 0; i < 60; i++) {
    const middle = Math.sqrt(low * high)
    if (Math.asinh(t / middle) / Math.asinh(1 / middle) > wanted) low = middle
    else high = middle
  }
  return Math.sqrt(low * high)
}

/** Where a value stands in the table of its curve; what is no number stands at the dark end. */
export function brightnessOf({ dark, bright, table }: Curve, value: number): number {
  const at = ((value - dark) * (STEPS - 1)) / (bright - dark)
  return at >= STEPS - 1 ? table[STEPS - 1] : at > 0 ? table[(at + 0.5) | 0] : table[0]
}
