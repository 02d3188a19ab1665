import type { ProofAnswer } from '../../../main/contract/index.ts'
import { number, withUnit } from '../../parts/format.ts'

type Figures = ProofAnswer['figures']['before']
const adu = (value: number | null) => (value === null ? 'none to be seen' : withUnit(number(value, 1), 'ADU'))
const percent = (value: number | null) => (value === null ? 'not to be told' : withUnit(number(100 * value, 1), '%'))

const rows: readonly { name: string; of: (figures: Figures) => string }[] = [
  { name: 'slope across the frame', of: ({ slopeAdu }) => adu(slopeAdu) },
  { name: 'glow at its brightest', of: ({ glowAdu }) => adu(glowAdu) },
  { name: 'vignetting left', of: ({ vignettingLeft }) => percent(vignettingLeft) },
  { name: 'dust shadows left', of: ({ shadowsLeft }) => percent(shadowsLeft) },
  { name: 'hot pixels', of: ({ hotPixels }) => number(hotPixels) },
  { name: 'unevenness of 50 to 300 px', of: ({ mottleAdu }) => adu(mottleAdu) },
  { name: 'noise', of: ({ noiseAdu }) => adu(noiseAdu) },
  { name: 'pixels below zero', of: ({ belowZero }) => number(belowZero) },
]

/** A light's figures before and after calibration, in words and units. */
export const proofRows = ({ before, after }: ProofAnswer['figures']) =>
  rows.map(({ name, of }) => ({ name, before: of(before), after: of(after) }))
