import { encodeChecksum, fold, sumWords } from './checksum.ts'
import { formatCard, headerBytes, type NewCard } from './write-cards.ts'

/** Structural keywords: the writer gives them itself, whatever a caller's cards say. */
const OWN =
  /^(SIMPLE|XTENSION|BITPIX|NAXIS\d*|EXTEND|PCOUNT|GCOUNT|GROUPS|BSCALE|BZERO|BLANK|TFIELDS|THEAP|(TTYPE|TFORM|TUNIT)\d+|CHECKSUM|DATASUM|CONTINUE|LONGSTRN|END)$/

/** Long strings are in the standard since 4.0; checkers that are older ask for the convention's own announcement. */
const ANNOUNCES_CONTINUE: NewCard = { keyword: 'LONGSTRN', value: 'OGIP 1.0', comment: 'long strings use CONTINUE' }

/** A caller's cards without those that describe the structure: what may be copied from one header to another. */
export function describingCards(cards: readonly NewCard[]): NewCard[] {
  return cards.filter((card) => !OWN.test(card.keyword.toUpperCase()))
}

/**
 * The header of a unit. With `dataSum`, it carries DATASUM and CHECKSUM; the length does not depend on their values, so a
 * header can be written first with `dataSum` 0 and again when the sum is known.
 */
export function unitHeader(structure: NewCard[], cards: readonly NewCard[], dataSum: number | null): Buffer {
  const described = describingCards(cards).flatMap(formatCard)
  const continued = described.some((record) => record.startsWith('CONTINUE'))
  const records = [...structure, ...(continued ? [ANNOUNCES_CONTINUE] : [])].flatMap(formatCard).concat(described)
  if (dataSum === null) return headerBytes(records)
  const sums = (checksum: string): string[] => [
    ...formatCard({ keyword: 'CHECKSUM', value: checksum, comment: 'HDU checksum' }),
    ...formatCard({ keyword: 'DATASUM', value: String(dataSum), comment: 'data unit checksum' }),
  ]
  const blank = headerBytes([...records, ...sums('0'.repeat(16))])
  return headerBytes([...records, ...sums(encodeChecksum(fold(sumWords(blank) + dataSum)))])
}
