import type { Answer, Layout } from '../../main/contract/index.ts'
import { number, withUnit } from '../parts/format.ts'
import type { ImageLevels } from './levels.ts'
import { bytesOfSamples, MOST_BYTES } from './samples.ts'
import { scaleWord } from './view.ts'

/** The viewer's words: values with units, positions, and what a screen reader says of a picture. */

type Image = Answer<'image'>

const SIXTEEN_BITS = 65_535

/** Upper end of the scale of an image's values: the converter's, 16 bits where nothing tells, or 1. */
export const scaleTopOf = ({ unit, fullScaleAdu }: Pick<Image, 'unit' | 'fullScaleAdu'>): number =>
  unit === 'unit' ? 1 : (fullScaleAdu ?? SIXTEEN_BITS)

/** A value as the image has it: whole ADU, fractions where there are some, six digits of a scale that ends at 1. */
export function level(value: number, unit: Image['unit']): string {
  if (unit === 'unit') return number(value, 6, true)
  const text = number(value, Number.isInteger(value) ? 0 : 3)
  return unit === 'adu' ? withUnit(text, 'ADU') : text
}

/** "1 234 ADU, 308 e⁻"; electrons only where the gain is known, and the pedestal counts with the rest. `row` counts from 0 as stored. */
export function valueText(
  value: number | null,
  { unit, electronsPerAdu }: Image,
  row = 0,
  rowsRead = Infinity,
): string {
  if (row >= rowsRead) return 'not read yet'
  if (value === null) return 'no value'
  const text = level(value, unit)
  if (unit !== 'adu' || !electronsPerAdu) return text
  return `${text}, ${withUnit(number(value * electronsPerAdu.value, 1), 'e⁻')}`
}

/** Where the electrons come from. */
export function gainText({ unit, electronsPerAdu }: Image): string {
  if (unit !== 'adu') return 'Its values are not in ADU, so there are no electrons to tell.'
  if (!electronsPerAdu) return 'Electrons are told once the camera’s gain is measured, or its header states it.'
  const from = electronsPerAdu.from === 'measured' ? 'measured here' : 'as the header states'
  return `${withUnit(number(electronsPerAdu.value, 4, true), 'e⁻/ADU')}, ${from}; the pedestal is counted with the rest.`
}

/** Position as FITS counts pixels: the first is 1, 1. */
export const positionText = ({ x, y }: { x: number; y: number }): string => `x ${number(x + 1)}, y ${number(y + 1)}`

/** Which way up the picture stands. */
export const rowsText = (rowOrder: string | null): string =>
  rowOrder === null
    ? 'Row 1 is drawn at the top; the header does not say which end it is.'
    : rowOrder === 'BOTTOM-UP'
      ? 'Row 1 is drawn at the bottom, as the header says (BOTTOM-UP).'
      : 'Row 1 is drawn at the top, as the header says (TOP-DOWN).'

/** What a screen reader says instead of the picture. */
export function pictureText(title: string, image: Image, levels: ImageLevels | null, scale: number | null): string {
  const { layout, unit } = image
  const size = `${title}: ${number(layout.width)} × ${number(layout.height)} pixels`
  if (!levels) return `${size}, still being read.`
  const { median, noise, min, max } = levels
  const levelsText = `median ${level(median, unit)}, noise ${level(noise, unit)}, from ${level(min, unit)} to ${level(max, unit)}`
  return `${size}, ${levelsText}${scale ? `; shown at ${scaleWord(scale)}` : ''}.`
}

const megabytes = (bytes: number) => withUnit(number(bytes / 1e6), 'MB')

export const tooLarge = (layout: Layout): string =>
  `This image of ${number(layout.width)} × ${number(layout.height)} pixels takes ${megabytes(bytesOfSamples(layout))} of memory, and the window holds ${megabytes(MOST_BYTES)} at most: its figures and its header stand on its page.`
