import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { basename, join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { readFitsInfo, type Card, type CardValue, type Header } from '../../../main/fits/index.ts'
import { describeWith, opendata, openFitsFiles } from '../support/shared.ts'
import { funpack, python } from '../support/tools.ts'

/** Every card of every unit as astropy reads it, and where the units lie. Numbers as JSON, large integers as text. */
const REFERENCE = `
import sys, json
from astropy.io import fits
from astropy.io.fits.card import Undefined
def plain(card):
    try:
        value = card.value
    except Exception:
        return {'unreadable': True}
    if isinstance(value, Undefined) or value is None: return None
    if isinstance(value, bool): return value
    if isinstance(value, int): return value if abs(value) < 2**53 else {'integer': str(value)}
    if isinstance(value, float): return value
    if isinstance(value, complex): return {'re': value.real, 'im': value.imag}
    return str(value)
out = []
for path in sys.argv[1:]:
    with fits.open(path, disable_image_compression=True, ignore_missing_end=True, do_not_scale_image_data=True) as units:
        all = []
        for unit in units:
            cards = [[card.keyword, plain(card)] for card in unit.header.cards]
            first = {}
            for card in unit.header.cards:
                first.setdefault(card.keyword, plain(card))
            place = unit.fileinfo()
            all.append(dict(cards=cards, first=first, offset=place['hdrLoc'], data=place['datLoc'], length=unit.size))
        out.append(all)
print(json.dumps(out))
`

type Plain = null | boolean | number | string | { integer: string } | { re: number; im: number } | { unreadable: true }
interface ReferenceUnit {
  cards: [string, Plain][]
  offset: number
  data: number
  length: number
}

const folder = mkdtempSync(join(tmpdir(), 'nightshelf-reference-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** astropy 5.2.1 joins pieces before it unquotes them; CFITSIO 4.2.0 does it the other way, and so do we. */
const ASTROPY_IS_WRONG: Record<string, string> = { LONGQ: "quote at the split ''and on" }

function plain(value: CardValue): Plain {
  if (typeof value === 'bigint') return { integer: String(value) }
  // astropy makes no difference between null and empty strings, and drops trailing blanks.
  return typeof value === 'string' ? value.trimEnd() : value
}

/** Our cards in the form of the reference's; where astropy could read no value, ours must be kept as text. */
function compare(ours: readonly Card[], theirs: [string, Plain][], file: string): void {
  const mine = ours.filter(({ keyword, value }) => keyword !== '' || value !== '')
  const reference = theirs.filter(([keyword, value]) => keyword !== '' || value !== '')
  expect(mine.map(({ keyword }) => keyword.toUpperCase())).toEqual(reference.map(([keyword]) => keyword))
  mine.forEach((card, i) => {
    const [keyword, expected] = reference[i]
    const note = `${file} ${keyword} (${i})`
    if (expected !== null && typeof expected === 'object' && 'unreadable' in expected)
      expect(card.form, note).toBe('malformed')
    else if (keyword in ASTROPY_IS_WRONG) expect(card.value, note).toBe(ASTROPY_IS_WRONG[keyword])
    else expect(plain(card.value), note).toEqual(typeof expected === 'string' ? expected.trimEnd() : expected)
  })
}

describeWith({ files: ['opendata'], astropy: true }, 'headers, card by card', () => {
  const files = openFitsFiles()
  const references = python<ReferenceUnit[][]>(
    REFERENCE,
    files.map((file) => join(opendata, file)),
  )

  test.each(files.map((file, i) => [file, references[i]] as const))('%s', (file, reference) => {
    const info = readFitsInfo(join(opendata, file))
    expect(info.units.map((unit) => [unit.offset, unit.dataOffset])).toEqual(
      reference.map((unit) => [unit.offset, unit.data]),
    )
    info.units.forEach((unit, i) => {
      compare(unit.header.cards, reference[i].cards, file)
      expect(unit.dataLength).toBe(reference[i].length)
    })
  })

  test('every whole file is exactly as long as its headers say', () => {
    const cut = ['minimal/truncated_data.fits', 'minimal/unpadded_tail.fits']
    for (const file of files.filter((file) => !cut.includes(file))) {
      const { fileSize, expectedLength, state } = readFitsInfo(join(opendata, file))
      expect({ expectedLength, state }, file).toEqual({ expectedLength: fileSize, state: 'complete' })
    }
  })

  test('a file without the padding at its end is complete, one without its data is not', () => {
    expect(readFitsInfo(join(opendata, 'minimal/unpadded_tail.fits')).state).toBe('complete')
    expect(readFitsInfo(join(opendata, 'minimal/truncated_data.fits')).state).toBe('data cut')
  })
})

/** Keywords that CFITSIO's unpacker drops, writes anew or adds. */
const UNPACKERS_OWN = new Set(['CHECKSUM', 'DATASUM', 'EXTEND', 'CONTINUE', 'COMMENT', 'HISTORY', ''])
const values = (header: Header) =>
  Object.fromEntries(
    header.cards
      .filter(({ keyword }) => !UNPACKERS_OWN.has(keyword))
      .map(({ keyword, value }) => [keyword, plain(value)]),
  )

describeWith(
  { files: ['opendata'], programs: ['funpack'] },
  'headers of compressed images, as funpack restores them',
  () => {
    const packed = openFitsFiles().filter((file) => file.endsWith('.fz'))

    test.each(packed)('%s', (file) => {
      const plainFile = join(folder, basename(file, '.fz'))
      expect(funpack(join(opendata, file), plainFile)).toBe(true)
      const ours = readFitsInfo(join(opendata, file)).header
      const theirs = readFitsInfo(plainFile)
      expect(theirs.imageCompression).toBeNull()
      expect(values(ours)).toEqual(values(theirs.header))
      for (const keyword of ['HISTORY', 'COMMENT'])
        expect(theirs.header.texts(keyword)).toEqual(
          expect.arrayContaining(ours.texts(keyword).filter((text) => !text.includes('FITS (Flexible'))),
        )
    })
  },
)
