import { describe, expect, test } from 'vitest'
import { Header, parseHeader } from '../../main/fits/header.ts'
import { rawHeader, record } from './files.ts'

const read = (...records: string[]): Header => parseHeader(rawHeader(records))
const value = (text: string) => read(text).cards[0].value

// The cases and their expected values are those on which astropy 5.2.1 and CFITSIO 4.2.0 agree for one file of edge cases;
// rules: FITS standard 3.0 pages (fits.gsfc.nasa.gov/standard30), sections 4.1 and 4.2, and 4.0 for CONTINUE.
describe('values of header cards', () => {
  test('a doubled quote is one quote', () => {
    expect(value("OHARA   = 'O''HARA'           / embedded quote")).toBe("O'HARA")
  })

  test('leading blanks of a string count, trailing ones do not', () => {
    expect(value("LEADSP  = '  two leading spaces kept   '")).toBe('  two leading spaces kept')
  })

  test('a slash inside a string is text, the one after it begins the comment', () => {
    const [card] = read("SLASHSTR= 'a / b'  / slash inside a string").cards
    expect(card).toMatchObject({ value: 'a / b', comment: 'slash inside a string' })
  })

  test('null, empty and undefined strings differ, as in the standard’s KEYWORD1 to KEYWORD3 (4.2.1)', () => {
    const header = read("KEYWORD1= ''", "KEYWORD2= '   '", 'KEYWORD3=        / undefined')
    expect(header.cards.map((card) => card.value)).toEqual(['', ' ', null])
    expect(header.value('KEYWORD4')).toBeUndefined()
    expect(header.text('KEYWORD2')).toBeNull()
  })

  test.each([
    ['FREEINT = 42', 42],
    ['FREEFLT = 1.5E-3/ no space', 0.0015],
    ['DEXP    = 1.25D3', 1250],
    ['LOWEXP  = 1e2', 100],
    ['LEADPLUS= +17', 17],
    ['LEADZERO= 00042', 42],
    ['NODIGIT = .5', 0.5],
    ['ENDPOINT= 5.', 5],
    ['LOGIC   = F', false],
    ['FREELOG =          T / comment', true],
    ['CMPLX   = (1.0, -2.5)', { re: 1, im: -2.5 }],
    ['BIG     = 9223372036854775808', 9223372036854775808n],
    ['BIGPLUS = +9007199254740993', 9007199254740993n],
  ])('%s', (card, expected) => {
    expect(value(card)).toEqual(expected)
  })

  test.each(['KEY     = 2026-11-20T21:00:00', 'KEY     = 1,5', 'KEY     = NaN', 'KEY     = 1E999', 'KEY     = - 10'])(
    'what is no legal value is kept as text: %s',
    (card) => {
      const [{ value, form }] = read(card).cards
      expect({ value, form }).toEqual({ value: card.slice(10), form: 'malformed' })
    },
  )

  test('a string without its closing quote runs to the end of the card', () => {
    expect(value("OPEN    = 'never closed")).toBe('never closed')
  })

  test('degrees come out readable from Latin-1 and from UTF-8', () => {
    const latin = Buffer.from("UNIT    = '\xb0C'".padEnd(80), 'latin1')
    const utf8 = Buffer.concat([Buffer.from("UNIT    = '°C'"), Buffer.alloc(80, ' ')]).subarray(0, 80)
    expect([latin, utf8].map((bytes) => parseHeader(bytes).value('UNIT'))).toEqual(['°C', '°C'])
  })
})

describe('long strings', () => {
  test('CONTINUE pieces join to the example of the registry page', () => {
    // fits.gsfc.nasa.gov/registry/continue_keyword.html
    const header = read(
      "SVALUE  = 'This is a long string value &'",
      "CONTINUE  'extending&  '",
      "CONTINUE  ' over 3 lines.'",
    )
    expect(header.value('SVALUE')).toBe('This is a long string value extending over 3 lines.')
    expect(header.cards).toHaveLength(1)
  })

  test('each piece is unquoted by itself before it is joined, as CFITSIO 4.2.0 does', () => {
    const header = read("LONGQ   = 'quote at the split ''&'", "CONTINUE  '''and on'")
    expect(header.value('LONGQ')).toBe("quote at the split ''and on")
  })

  test('an ampersand that no CONTINUE follows is an ampersand', () => {
    expect(value("AMPEND  = 'ends with an ampersand &'")).toBe('ends with an ampersand &')
    expect(read("KEY     = 'a&'", "CONTINUE  'b&'", 'NEXT    = 1').value('KEY')).toBe('ab&')
  })

  test('comments of the pieces are joined, and a stray CONTINUE is commentary', () => {
    const header = read("KEY     = 'a&' / one", "CONTINUE  'b' / two", "CONTINUE  'stray'")
    expect(header.cards[0]).toMatchObject({ value: 'ab', comment: 'one two' })
    expect(header.cards[1]).toMatchObject({ keyword: 'CONTINUE', form: 'text' })
  })
})

describe('keywords', () => {
  test('HIERARCH names begin in column 10 or 11 and may hold blanks', () => {
    // CFITSIO user guide 4.2, 12.5, and the ESO convention: both columns occur.
    const header = read(
      'HIERARCH ESO INS FOCU POS = -0.00002500 / Focus position',
      'HIERARCH  LONGKEYWORD = 47.5',
      'HIERARCH Earth is a star = F',
      'HIERARCH no value here',
    )
    expect(header.number('ESO INS FOCU POS')).toBe(-0.000025)
    expect(header.number('LONGKEYWORD')).toBe(47.5)
    expect(header.logical('EARTH IS A STAR')).toBe(false)
    expect(header.cards[3]).toMatchObject({ keyword: 'HIERARCH', form: 'text' })
  })

  test('commentary keeps its text, equals signs and all', () => {
    const header = read('COMMENT = not a value', 'HISTORY   two spaces', '        blank keyword', 'NOVALIND  7')
    expect(header.cards.map(({ form }) => form)).toEqual(['text', 'text', 'text', 'text'])
    expect(header.texts('COMMENT')).toEqual(['= not a value'])
    expect(header.texts('HISTORY')).toEqual(['  two spaces'])
  })

  test('the first of two equal keywords counts, and both are kept', () => {
    const header = read(record('GAIN', 100), record('GAIN', 200))
    expect(header.number('GAIN')).toBe(100)
    expect(header.cards).toHaveLength(2)
  })

  test('keywords are found in any case', () => {
    expect(read('exptime = 30').number('EXPTIME')).toBe(30)
    expect(Header.of([{ keyword: 'Gain', value: 5, comment: '' }]).number('gAIN')).toBe(5)
  })

  test('typed getters give null for another type', () => {
    const header = read("TEXT    = '12'", record('NUMBER', 3), record('YES', 'T'))
    expect([header.number('TEXT'), header.text('NUMBER'), header.logical('NUMBER')]).toEqual([null, null, null])
    expect(header.number('BITPIX')).toBeNull()
  })
})

test('END ends the header, and only END does', () => {
  const header = read(record('ENDTIME', 5), 'COMMENT END', record('LAST', 1))
  expect(header.cards.map((card) => card.keyword)).toEqual(['ENDTIME', 'COMMENT', 'LAST'])
})

test('a header of many blocks is read to its last card', () => {
  const header = read(...Array.from({ length: 255 }, (_, i) => record(`KEY${i}`, i)))
  expect(header.cards).toHaveLength(255)
  expect(header.number('KEY254')).toBe(254)
})

test('fifty thousand CONTINUE records are joined without delay', () => {
  const piece = `CONTINUE  '${'x'.repeat(67)}&'`
  const started = performance.now()
  const text = read(`LONG    = '${'x'.repeat(67)}&'`, ...new Array(50_000).fill(piece), "CONTINUE  'end'").text('LONG')!
  expect(text.length).toBe(67 * 50_001 + 3)
  expect(performance.now() - started).toBeLessThan(2000)
})
