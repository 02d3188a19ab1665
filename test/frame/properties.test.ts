import { expect, test } from 'vitest'
import fc from 'fast-check'
import { frameSchema } from '../../main/contract/index.ts'
import { describeFrame } from '../../main/frame/describe.ts'
import { spellings } from '../../main/frame/dictionary.ts'
import { context, describeCards, file } from './facts.ts'

const keywords = [...new Set(spellings.map((spelling) => spelling.keyword))]
const value = fc.oneof(
  fc.string({ unit: 'binary', maxLength: 70 }),
  fc.double(),
  fc.integer(),
  fc.bigInt(),
  fc.boolean(),
  fc.constant(null),
  fc.constantFrom(
    'Light',
    '-10,0 C',
    '1e999',
    '2026-13-45',
    '24:60:60',
    '٣',
    '°',
    '(1,2)',
    '0x10',
    '__proto__',
    'constructor',
  ),
  fc.record({ re: fc.double(), im: fc.double() }),
)
const card = fc.record({
  keyword: fc.oneof(fc.constantFrom(...keywords), fc.string(), fc.constantFrom('__proto__', 'constructor', 'toString')),
  value,
  comment: fc.oneof(fc.string(), fc.constantFrom('[ms]', '[K]', 'e-/ADU', 'in (', '')),
})
const cards = fc.array(card, { maxLength: 60 })
const schema = frameSchema.omit({ id: true, figures: true })

test('property: arbitrary cards give facts of the agreed shape, never an error', () => {
  fc.assert(
    fc.property(cards, fc.string({ unit: 'binary' }), fc.double(), (list, path, mtimeMs) => {
      const facts = describeFrame({ cards: list }, { ...file, path, mtimeMs }, context)
      schema.parse(facts)
      expect(facts.night).toMatch(/^\d{4}-\d{2}-\d{2}$/)
    }),
    { numRuns: 400 },
  )
})

test('property: cards of no known keyword set nothing: no default for an unknown', () => {
  const nothing = describeCards({})
  const strange = fc.array(fc.record({ keyword: fc.stringMatching(/^X[A-Z]{3,7}Q$/), value, comment: fc.string() }))
  fc.assert(
    fc.property(strange, (list) => {
      expect(describeFrame({ cards: list }, file, context)).toEqual(nothing)
    }),
  )
})

test('a header that says nothing leaves every setting null but the size of the image', () => {
  const { path, kind, kindFrom, night, state, aside, conflicts, integrated, width, height, ...rest } = describeCards({})
  expect({ kind, state, aside, conflicts, integrated, night }).toEqual({
    kind: 'unknown',
    state: 'ok',
    aside: false,
    conflicts: [],
    integrated: false,
    night: '2026-11-20',
  })
  expect([path, kindFrom, width, height]).toEqual([file.path, 'header', file.width, file.height])
  expect(Object.values(rest).every((setting) => setting === null)).toBe(true)
})

test('property: a value survives whatever surrounds it', () => {
  const blanks = fc.stringMatching(/^ {0,5}$/)
  const temps = fc.integer({ min: -4000, max: 4000 }).map((n) => n / 100)
  fc.assert(
    fc.property(
      temps,
      blanks,
      blanks,
      fc.constantFrom('', 'C', ' C', '°C', ' degC'),
      fc.boolean(),
      (t, a, b, unit, comma) => {
        const text = comma ? String(t.toFixed(2)).replace('.', ',') : String(t)
        expect(describeCards({ 'CCD-TEMP': a + text + unit + b }).sensorTempC).toBe(t)
        expect(describeCards({ 'CCD-TEMP': Math.fround(t) }).sensorTempC).toBe(t)
      },
    ),
  )
})
