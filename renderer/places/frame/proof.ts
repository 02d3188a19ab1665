import type { ProofAnswer } from '../../../main/contract/index.ts'
import { number, withUnit } from '../../parts/format.ts'

type Figures = ProofAnswer['figures']['before']
const adu = (value: number | null) => (value === null ? 'none to be seen' : withUnit(number(value, 1), 'ADU'))
const percent = (value: number | null) => (value === null ? 'not to be told' : withUnit(number(100 * value, 1), '%'))
const noises = (value: number | null | undefined) =>
  value === null || value === undefined ? 'none to be seen' : `${number(value, 2)} of the noise`

const COLOURS = [
  ['R', 'red'],
  ['G', 'green'],
  ['B', 'blue'],
] as const

const rows: readonly { name: string; of: (figures: Figures) => string }[] = [
  { name: 'slope across the frame', of: ({ slopeAdu }) => adu(slopeAdu) },
  { name: 'glow at its brightest', of: ({ glowAdu }) => adu(glowAdu) },
  { name: 'the same against the noise', of: ({ glowOverNoise }) => noises(glowOverNoise) },
  { name: 'excess where the dark glows', of: ({ glowRegion }) => adu(glowRegion?.adu ?? null) },
  { name: 'the same excess against the noise', of: ({ glowRegion }) => noises(glowRegion?.overNoise) },
  { name: 'vignetting left', of: ({ vignettingLeft }) => percent(vignettingLeft) },
  { name: 'dust shadows left', of: ({ shadowsLeft }) => percent(shadowsLeft) },
  { name: 'hot pixels', of: ({ hotPixels }) => number(hotPixels) },
  { name: 'unevenness of 50 to 300 px', of: ({ mottleAdu }) => adu(mottleAdu) },
  ...COLOURS.map(([channel, word]) => ({
    name: `in ${word} alone`,
    of: ({ mottleByChannel }: Figures) => (mottleByChannel ? adu(mottleByChannel[channel]) : ''),
  })),
  { name: 'noise', of: ({ noiseAdu }) => adu(noiseAdu) },
  { name: 'pixels below zero', of: ({ belowZero }) => number(belowZero) },
]

/** A light's figures before and after calibration, in words and units; what neither has (colours of a mono sensor) is left out. */
export const proofRows = ({ before, after }: ProofAnswer['figures']) =>
  rows.map(({ name, of }) => ({ name, before: of(before), after: of(after) })).filter((row) => row.before || row.after)
