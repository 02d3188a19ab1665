import { Header, type Card } from './header.ts'

/** Keywords of a compressed image's table that stand for the image's own (standard 4.0, 10.1). */
const MAPPED: Record<string, string> = {
  ZSIMPLE: 'SIMPLE',
  ZTENSION: 'XTENSION',
  ZBITPIX: 'BITPIX',
  ZNAXIS: 'NAXIS',
  ZEXTEND: 'EXTEND',
  ZBLOCKED: 'BLOCKED',
  ZPCOUNT: 'PCOUNT',
  ZGCOUNT: 'GCOUNT',
  ZHECKSUM: 'CHECKSUM',
  ZDATASUM: 'DATASUM',
}

/** What describes the table and its compression, and nothing of the image. */
const OF_THE_TABLE =
  /^(SIMPLE|XTENSION|BITPIX|NAXIS\d*|PCOUNT|GCOUNT|TFIELDS|THEAP|CHECKSUM|DATASUM|EXTEND|(TTYPE|TFORM|TUNIT|TNULL|TDISP|TSCAL|TZERO|TDIM)\d+|ZIMAGE|ZCMPTYPE|ZQUANTIZ|ZDITHER0|ZMASKCMP|ZSCALE|ZZERO|ZBLANK|(ZTILE|ZNAME|ZVAL)\d+)$/

/** What a unit does not take over from the primary header: the primary's own shape, sums and prose. */
const OF_THE_PRIMARY =
  /^(SIMPLE|BITPIX|NAXIS\d*|EXTEND|GROUPS|PCOUNT|GCOUNT|BLOCKED|BSCALE|BZERO|BLANK|BUNIT|DATAMIN|DATAMAX|CHECKSUM|DATASUM|NEXTEND|EXTNAME|EXTVER|EXTLEVEL|INHERIT|CONTINUE|COMMENT|HISTORY|END|)$/

/** The header that a compressed image had before it was compressed, from its table's header. */
export function uncompressedHeader(table: Header): Header {
  const cards: Card[] = []
  const blank = table.has('BLANK') ? null : table.card('ZBLANK')
  for (const card of table.cards) {
    const name = MAPPED[card.keyword] ?? (/^ZNAXIS\d+$/.test(card.keyword) ? card.keyword.slice(1) : null)
    if (name) cards.push({ ...card, keyword: name })
    else if (card.keyword === 'EXTNAME' && card.value === 'COMPRESSED_IMAGE') continue
    else if (!OF_THE_TABLE.test(card.keyword)) cards.push(card)
  }
  // An integer image's undefined pixels are named by BLANK; a compressor may have moved it to ZBLANK.
  if (blank && (table.number('ZBITPIX') ?? 0) > 0) cards.push({ ...blank, keyword: 'BLANK' })
  return Header.of(cards)
}

/**
 * The header of an image in an extension: its own cards, then the primary's for keywords that it lacks (the
 * INHERIT convention, taken as wished unless the extension says INHERIT = F).
 */
export function inherit(own: Header, primary: Header): Header {
  if (own.logical('INHERIT') === false) return own
  const added = primary.cards.filter(
    (card) => card.form !== 'text' && !OF_THE_PRIMARY.test(card.keyword) && !own.has(card.keyword),
  )
  return added.length === 0 ? own : Header.of([...own.cards, ...added])
}
