import type { Target } from './sky.ts'
import type { Train } from './train.ts'

/**
 * The invented place of the demo night: a site, a train and three targets. Any likeness to real equipment is accidental.
 * The site lies near the equator so that the same story fits every date of the year: its nights are always ten hours dark.
 */

export const site = {
  name: 'Skerrow Ridge',
  latDeg: 8.52,
  longDeg: -28.41,
  elevationM: 1240,
  /** The island keeps this time all year; its clocks lie behind UTC, so half of a night has the next day's UTC date. */
  utcOffsetH: -2,
}

export const program = 'Tideglass 2.4'

/** The one camera body, as its header names it. */
export const serial = 'HR-00417'

export const larkfield: Train = {
  telescope: 'Larkfield 78',
  focalMm: 428,
  apertureMm: 78,
  cornerLight: 0.7,
  centre: { x: 0.515, y: 0.492 },
  shadows: [
    { x: 0.29, y: 0.31, diameter: 0.012, depth: 0.045 },
    { x: 0.643, y: 0.72, diameter: 0.01, depth: 0.06 },
    { x: 0.81, y: 0.2, diameter: 0.014, depth: 0.03 },
  ],
  filters: [
    {
      name: 'luminance',
      passes: { R: 0.66, G: 1, B: 0.74 },
      skyEPerS: { R: 1.7, G: 2.6, B: 1.9 },
      nebulaEPerS: { R: 0.75, G: 0.5, B: 0.42 },
      mottle: 0,
      shadows: [
        { x: 0.44, y: 0.58, diameter: 0.055, depth: 0.025 },
        { x: 0.17, y: 0.77, diameter: 0.062, depth: 0.018 },
      ],
    },
    {
      name: 'dual-band',
      passes: { R: 0.075, G: 0.11, B: 0.06 },
      skyEPerS: { R: 0.11, G: 0.17, B: 0.1 },
      nebulaEPerS: { R: 0.55, G: 0.26, B: 0.16 },
      mottle: 0.008,
      shadows: [{ x: 0.71, y: 0.41, diameter: 0.05, depth: 0.035 }],
    },
    {
      name: 'sulphur',
      passes: { R: 0.06, G: 0.004, B: 0.002 },
      skyEPerS: { R: 0.08, G: 0.008, B: 0.004 },
      nebulaEPerS: { R: 0.3, G: 0.02, B: 0.01 },
      mottle: 0.01,
      shadows: [{ x: 0.36, y: 0.22, diameter: 0.058, depth: 0.03 }],
    },
  ],
}

export const targets = {
  weir: { name: 'Weir Cluster', ra: '23 12 40.0', dec: '+14 05 30', starsPerMpx: 2600, nebula: 0 },
  lantern: { name: 'Lantern 3', ra: '01 47 15.2', dec: '+28 36 10', starsPerMpx: 1500, nebula: 1 },
  ferry: { name: 'Ferry Cloud', ra: '06 20 04.6', dec: '-02 18 45', starsPerMpx: 1900, nebula: 0.8 },
} satisfies Record<string, Target>
export type TargetName = keyof typeof targets
