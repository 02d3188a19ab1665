import type { Master } from '../../../main/contract/index.ts'
import { number, withUnit } from '../../parts/format.ts'
import { sourceWord } from '../flats/now.ts'

const adu = (value: number, digits = 1) => withUnit(number(value, digits), 'ADU')
const percent = (fraction: number) => withUnit(number(100 * fraction, 1, true), '%')

/** A master's figures as short sentences; what is not known is left out. */
export function masterFigures({
  kind,
  figures,
  lightSource,
}: Pick<Master, 'kind' | 'figures' | 'lightSource'>): string[] {
  if (!figures) return []
  const lines = [`Median ${adu(figures.median)}.`]
  if (figures.noise !== null) lines.push(noiseLine(figures))
  if (figures.hotPixels !== null) {
    const above = figures.hotThresholdAdu ? `, more than ${adu(figures.hotThresholdAdu)} above their surroundings` : ''
    lines.push(`${number(figures.hotPixels)} hot pixels${above}.`)
  }
  if (kind !== 'flat' && figures.glowPeakAdu !== null) {
    const { glowPeakAt: at } = figures
    const where = at ? ` at ${number(at.x)}, ${withUnit(number(at.y), 'px')}` : ''
    lines.push(`Glow: ${adu(figures.glowPeakAdu)} above the rest at its brightest${where}.`)
  }
  if (lightSource) lines.push(`Lit by ${sourceWord[lightSource]}.`)
  if (figures.flat) lines.push(...flatLines(figures.flat))
  return lines
}

function noiseLine({ noise, frameNoise, expectedNoise }: NonNullable<Master['figures']>): string {
  const expected = expectedNoise ? `, ${adu(expectedNoise, 2)} expected from their number` : ''
  const one = frameNoise ? `; one frame has ${adu(frameNoise, 2)}` : ''
  return `Noise ${adu(noise!, 2)}${expected}${one}.`
}

function flatLines({ vignetting, balance, snr, frameSnr }: NonNullable<NonNullable<Master['figures']>['flat']>) {
  const lines = [`The corners are ${percent(vignetting)} darker than the middle.`]
  if (balance) lines.push(`Balance against green: red ${number(balance.R, 2)}, blue ${number(balance.B, 2)}.`)
  if (snr !== null)
    lines.push(
      `Signal over noise, per pixel: ${number(snr)}${frameSnr === null ? '' : `, of one frame ${number(frameSnr)}`}.`,
    )
  return lines
}
