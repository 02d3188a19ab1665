import type { CheckFinding, DarkCheckAnswer, FlatCheckAnswer, Master, Run } from '../../../main/contract/index.ts'
import { number, withUnit } from '../../parts/format.ts'

const findingWords: Record<CheckFinding['what'], string> = {
  'shadow-new': 'A new dust shadow',
  'shadow-gone': 'A dust shadow that is gone',
  vignetting: 'The vignetting changed',
  tilt: 'The light slopes differently',
  balance: 'The colours are balanced differently',
  pedestal: 'The black level moved',
  'dark-signal': 'The dark signal changed',
  glow: 'The glow changed',
  'glow-shape': 'Beside the master’s glow',
  'hot-new': 'New hot pixels',
  'another-sensor': 'The hot pixels are another sensor’s',
}

const percent = (fraction: number, digits = 1) => withUnit(number(100 * fraction, digits), '%')
const adu = (value: number) => withUnit(number(value, 1), 'ADU')

const inAdu: readonly CheckFinding['what'][] = ['pedestal', 'glow', 'glow-shape']

/** One finding of a check: what, how much, where. */
export function findingText({ what, where, sizePx, depth }: CheckFinding): string {
  const sign = depth > 0 && [...inAdu, 'dark-signal', 'vignetting'].includes(what) ? '+' : ''
  const much = sign + (inAdu.includes(what) ? adu(depth) : percent(depth, what === 'hot-new' ? 3 : 1))
  const at = where ? `, at ${number(where.x)}, ${withUnit(number(where.y), 'px')}` : ''
  const size = sizePx ? `, ${withUnit(number(sizePx), 'px')} across` : ''
  return `${findingWords[what]}: ${much}${at}${size}`
}

/** The figures behind a verdict, each as a name and a value. */
export function checkFigures(check: FlatCheckAnswer | DarkCheckAnswer): { name: string; value: string }[] {
  if (check.kind === 'flat') {
    const { cellRatio, tilt, vignettingShift, withinFraction, blockPx, blockNoise } = check.figures
    return [
      { name: 'light against then', value: levelText(cellRatio) },
      { name: 'slope from corner to corner', value: `${percent(tilt, 2)}, taken off: a panel put back is never level` },
      { name: 'shift of the vignetting', value: percent(vignettingShift, 2) },
      { name: 'blocks within the limit', value: percent(withinFraction) },
      { name: 'size of a block', value: `${withUnit(number(blockPx), 'px')}, of a noise of ${percent(blockNoise, 2)}` },
    ]
  }
  const { pedestalAdu, signalRatio, glowRatio, glowPeakAdu, hotKept, hotGone, hotNew, noiseAdu } = check.figures
  return [
    { name: 'step of the black level', value: adu(pedestalAdu) },
    { name: 'dark signal against then', value: signalRatio === null ? 'too few hot pixels' : percent(signalRatio) },
    {
      name: 'glow against then',
      value:
        glowRatio === null || glowPeakAdu === null
          ? 'no glow to be seen'
          : `${percent(glowRatio)} of ${adu(glowPeakAdu)} at its peak`,
    },
    { name: 'hot pixels as before', value: `${number(hotKept)} of ${number(hotKept + hotGone)}` },
    { name: 'newly hot, cosmic rays among them', value: number(hotNew) },
    { name: 'noise of one pixel', value: adu(noiseAdu) },
  ]
}

function levelText(cells: readonly number[]): string {
  const [low, high] = [Math.min(...cells), Math.max(...cells)]
  return high - low < 0.0005 ? percent(low) : `${percent(low)} to ${percent(high)}, by colour`
}

/** What the picture of the changes shows. */
export const mapText = ({ kind, figures }: FlatCheckAnswer | DarkCheckAnswer): string =>
  kind === 'flat'
    ? `Middle tone: the same. Darker: less light than then, brighter: more, two per cent either way. ${percent(figures.withinFraction)} of it lie within the limit.`
    : `Middle tone: the same. Darker: less glow than then, brighter: more, ${adu(figures.noiseAdu)} either way: the noise of one pixel.`

type Fields =
  'camera' | 'body' | 'gain' | 'offset' | 'readout' | 'binning' | 'width' | 'height' | 'filter' | 'exposureS'
type Comparable = Pick<Master, Fields>

/** Exposures that are one exposure: 0.1 % apart. The engine judges; here only the list is kept short. */
const sameExposure = (a: number | null, b: number | null) =>
  a === null || b === null || Math.abs(a - b) <= Math.max(0.01, 0.001 * b)
const same = (a: unknown, b: unknown) => a === null || b === null || a === b

/** Whether the frames of a run may be held against masters of a kind, or against this master. */
export function mayCheck(run: Run, kind: 'flat' | 'dark', master: Comparable | null): boolean {
  const dark = run.kind === 'dark' || run.kind === 'darkFlat'
  if (run.aside || (kind === 'flat' ? run.kind !== 'flat' : !dark)) return false
  if (!master) return true
  const fields = ['camera', 'body', 'readout', 'binning', 'width', 'height'] as const
  const alike = [...fields, ...(kind === 'dark' ? (['gain', 'offset'] as const) : (['filter'] as const))]
  return (
    alike.every((field) => same(run[field], master[field])) &&
    (kind === 'flat' || sameExposure(run.exposureS, master.exposureS))
  )
}
