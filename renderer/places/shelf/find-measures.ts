import { exposure, number, setTemp } from '../../parts/format.ts'
import type { Condition, FindContext, Reading } from './find.ts'
import { ageDaysOf, tempOf, type ShelfRows } from './rows.ts'

/** Numbers with a unit, and comparisons: "300 s", "-10 °C", "over 20 frames", "older than a year". */

type Quantity = 'age' | 'exposure' | 'temperature' | 'frames'
interface Unit {
  of: Quantity
  /** What one of it is in days, s, °C or frames. */
  size: number
}

const unit = (of: Quantity, size: number, names: string): [string, Unit][] =>
  names.split(' ').map((name) => [name, { of, size }])
const UNITS = new Map<string, Unit>([
  ...unit('exposure', 0.001, 'ms'),
  ...unit('exposure', 1, 's sec secs second seconds'),
  ...unit('exposure', 60, 'min mins minute minutes'),
  ...unit('temperature', 1, '°c c deg degree degrees celsius °'),
  ...unit('frames', 1, 'frame frames'),
  ...unit('age', 1, 'day days d'),
  ...unit('age', 7, 'week weeks'),
  ...unit('age', 30.44, 'month months'),
  ...unit('age', 365.25, 'year years'),
])

/** The sign of a comparison, and what it is about where no unit says so. */
const COMPARISONS: Record<string, { sign: 1 | -1; of?: Quantity }> = {
  over: { sign: 1 },
  above: { sign: 1 },
  more: { sign: 1 },
  older: { sign: 1, of: 'age' },
  longer: { sign: 1, of: 'exposure' },
  warmer: { sign: 1, of: 'temperature' },
  under: { sign: -1 },
  below: { sign: -1 },
  less: { sign: -1 },
  fewer: { sign: -1 },
  younger: { sign: -1, of: 'age' },
  newer: { sign: -1, of: 'age' },
  shorter: { sign: -1, of: 'exposure' },
  colder: { sign: -1, of: 'temperature' },
  cooler: { sign: -1, of: 'temperature' },
}
const NUMBER_WORDS = 'zero one two three four five six seven eight nine ten eleven twelve'.split(' ')

interface Amount {
  length: number
  value: number
  unit: Unit | null
  text: string
}

/** "300 s", "300s", "a year", "two weeks", "-10". */
function readAmount(words: readonly string[]): Amount | null {
  const [first = '', second = ''] = words
  const [, digits, attached] = /^([+-]?\d+(?:[.,]\d+)?)([a-z°]*)$/.exec(first) ?? []
  const named = first === 'a' || first === 'an' ? 1 : NUMBER_WORDS.indexOf(first)
  if (digits === undefined && named < 0) return null
  const value = digits === undefined ? named : Number(digits.replace(',', '.'))
  if (attached) {
    const own = UNITS.get(attached)
    return own ? { length: 1, value, unit: own, text: first } : null
  }
  const own = UNITS.get(second) ?? null
  if (digits === undefined && !own) return null
  return { length: own ? 2 : 1, value, unit: own, text: own ? `${first} ${second}` : first }
}

export function readMeasure(words: readonly string[], context: FindContext): Reading | null {
  const [word = '', next] = words
  const comparison = Object.hasOwn(COMPARISONS, word) ? COMPARISONS[word] : undefined
  if (comparison) {
    const skipped = next === 'than' ? 2 : 1
    const amount = readAmount(words.slice(skipped))
    if (!amount) return { length: skipped, condition: null }
    return { length: skipped + amount.length, condition: compared(amount, comparison, context) }
  }
  const amount = readAmount(words)
  if (!amount) return null
  const { length, value, unit: own } = amount
  if (own) return { length, condition: equal(value * own.size, own.of, context, own.size) }
  if (/^[+-]/.test(word)) return { length, condition: equal(value, 'temperature', context) }
  return { length, condition: bareNumber(word, context.rows) }
}

const quantityOf = (of: Quantity, { rows, nowMs }: FindContext): ((row: number) => number | null) => {
  if (of === 'age') return (row) => ageDaysOf(rows, row, nowMs)
  if (of === 'temperature') return (row) => tempOf(rows, row)
  const column = of === 'frames' ? rows.frames : rows.exposureS
  return (row) => (Number.isNaN(column[row]!) ? null : column[row]!)
}

const AGES = { '1': 'older', '-1': 'younger' } as const
function compared(
  amount: Amount,
  { sign, of }: { sign: 1 | -1; of?: Quantity },
  context: FindContext,
): Condition | null {
  const about = amount.unit?.of ?? of
  if (!about) return null
  const limit = amount.value * (amount.unit?.size ?? 1)
  const valueOf = quantityOf(about, context)
  const than = about === 'age' ? AGES[`${sign}`] : sign > 0 ? 'more' : 'less'
  return {
    says: `${than} than ${amount.text}${amount.unit ? '' : UNIT_WORD[about]}`,
    fits: (row) => {
      const value = valueOf(row)
      return value !== null && sign * (value - limit) > 0
    },
  }
}
const UNIT_WORD: Record<Quantity, string> = { age: ' days', exposure: ' s', temperature: ' °C', frames: ' frames' }

/** Measured temperatures are never round: half a degree is the tolerance of a match as well. */
const TEMP_SLACK_C = 0.5
/** An exposure is meant to the digits that are shown of it. */
const EXPOSURE_SLACK = 0.001

function equal(wanted: number, of: Quantity, context: FindContext, size = 1): Condition {
  const valueOf = quantityOf(of, context)
  const slack = of === 'temperature' ? TEMP_SLACK_C : of === 'exposure' ? Math.abs(wanted) * EXPOSURE_SLACK : size / 2
  const says =
    of === 'temperature'
      ? setTemp(wanted)
      : of === 'exposure'
        ? exposure(wanted)
        : of === 'frames'
          ? `${number(wanted)} frames`
          : `${number(wanted)} days old`
  return {
    says,
    fits: (row) => {
      const value = valueOf(row)
      return value !== null && Math.abs(value - wanted) <= slack + 1e-9
    },
  }
}

/** "300" may be an exposure, a gain or an offset, and while it is typed the beginning of one. */
function bareNumber(word: string, rows: ShelfRows): Condition {
  const isMeant = Uint8Array.from(rows.texts, (text) => (` ${text.toLowerCase()}`.includes(` ${word}`) ? 1 : 0))
  const exposures = new Map<number, boolean>()
  const isExposure = (seconds: number) => {
    let known = exposures.get(seconds)
    if (known === undefined) exposures.set(seconds, (known = String(seconds).startsWith(word)))
    return known
  }
  const columns = [rows.gain, rows.offset, rows.camera, rows.filter, rows.body, rows.telescope]
  return {
    says: `“${word}”`,
    fits: (row) => isExposure(rows.exposureS[row]!) || columns.some((column) => isMeant[column[row]!] === 1),
  }
}
