import { parseCard, parseContinuation, readable, type Card, type CardValue } from './card.ts'

export type { Card, CardForm, CardValue, Complex } from './card.ts'

export const CARD_LENGTH = 80
export const BLOCK_LENGTH = 2880

/**
 * A FITS header: its cards in order, and values by keyword. Reading is lazy, so that a header of which
 * a few keywords are asked costs next to nothing. Keywords are found without regard to case. Where a keyword is there twice the first
 * one counts (so do astropy and CFITSIO); `cards` has them all.
 */
export class Header {
  /** Records one after the other, or null where the header was made from cards. */
  readonly #text: string | null
  #cards: readonly Card[] | null
  /** Keyword → number of its first record (or card). */
  #places: Map<string, number> | null = null
  readonly #read = new Map<number, Card>()

  private constructor(text: string | null, cards: readonly Card[] | null) {
    this.#text = text
    this.#cards = cards
  }

  /** From 80-character records in one string (latin1), END and what follows it left out. */
  static ofText(text: string): Header {
    return new Header(text, null)
  }

  /** From cards, as they are. */
  static of(cards: readonly Card[]): Header {
    return new Header(null, cards)
  }

  /** All cards in order; the pieces of a long string are one card. */
  get cards(): readonly Card[] {
    return (this.#cards ??= this.#readAll())
  }

  /** The keyword's value, null where it has none, undefined where the keyword is not there. */
  value(keyword: string): CardValue | undefined {
    return this.card(keyword)?.value
  }

  /** The first card of that keyword. */
  card(keyword: string): Card | undefined {
    const place = this.#index().get(keyword.toUpperCase())
    return place === undefined ? undefined : this.#at(place)
  }

  has(keyword: string): boolean {
    return this.#index().has(keyword.toUpperCase())
  }

  /** A string value without the blanks around it; null where it is not there, blank, or no string. */
  text(keyword: string): string | null {
    const value = this.value(keyword)
    return typeof value === 'string' ? value.trim() || null : null
  }

  /** A numeric value; null where it is not there or not a number (a number written as a string is a string). */
  number(keyword: string): number | null {
    const value = this.value(keyword)
    return typeof value === 'number' ? value : typeof value === 'bigint' ? Number(value) : null
  }

  /** A logical value; null where it is not there or not one. */
  logical(keyword: string): boolean | null {
    const value = this.value(keyword)
    return typeof value === 'boolean' ? value : null
  }

  /** The texts of all cards of a commentary keyword (COMMENT, HISTORY), in order. */
  texts(keyword: string): string[] {
    return this.cards
      .filter((card) => card.keyword === keyword && typeof card.value === 'string')
      .map((card) => card.value as string)
  }

  #at(place: number): Card {
    if (this.#text === null) return this.#cards![place]
    let card = this.#read.get(place)
    if (!card) this.#read.set(place, (card = readWhole(this.#text, place).card))
    return card
  }

  #index(): Map<string, number> {
    if (this.#places) return this.#places
    const places = new Map<string, number>()
    const [text, cards] = [this.#text, this.#cards]
    const count = text === null ? cards!.length : Math.floor(text.length / CARD_LENGTH)
    for (let i = 0; i < count; i++) {
      const keyword = text === null ? cards![i].keyword.toUpperCase() : keywordOf(text, i)
      if (!places.has(keyword)) places.set(keyword, i)
    }
    return (this.#places = places)
  }

  #readAll(): Card[] {
    const text = this.#text!
    const cards: Card[] = []
    for (let i = 0; (i + 1) * CARD_LENGTH <= text.length;) {
      const { card, next } = readWhole(text, i)
      cards.push(card)
      i = next
    }
    return cards
  }
}

const recordOf = (text: string, place: number): string =>
  text.slice(place * CARD_LENGTH, place * CARD_LENGTH + CARD_LENGTH)

function keywordOf(text: string, place: number): string {
  const keyword = text
    .slice(place * CARD_LENGTH, place * CARD_LENGTH + 8)
    .trimEnd()
    .toUpperCase()
  return keyword === 'HIERARCH' ? parseCard(recordOf(text, place)).keyword.toUpperCase() : keyword
}

/**
 * A card with the CONTINUE records that belong to it (standard 4.0, 4.2.1.2): each piece is unquoted by itself, then
 * joined. A trailing & that no CONTINUE follows is a literal &.
 */
function readWhole(text: string, start: number): { card: Card; next: number } {
  let next = start + 1
  const card = parseCard(recordOf(text, start))
  if (typeof card.value !== 'string' || card.form !== 'value' || !card.value.endsWith('&')) return { card, next }
  const pieces = [card.value]
  const comments = card.comment ? [card.comment] : []
  while (pieces.at(-1)!.endsWith('&')) {
    const piece = parseContinuation(recordOf(text, next))
    if (!piece) break
    pieces.push(pieces.pop()!.slice(0, -1), readable(piece.text))
    if (piece.comment) comments.push(readable(piece.comment))
    next++
  }
  if (next === start + 1) return { card, next }
  // Only at the end of the whole string do blanks not count; a string of nothing else is one blank.
  const value = pieces.join('')
  return { card: { ...card, value: value.replace(/ +$/, '') || value.slice(0, 1), comment: comments.join(' ') }, next }
}

/** Where the header that starts at `from` ends: the offset of its END record, or -1 if there is none up to `to`. */
export function findEnd(bytes: Uint8Array, from: number, to: number): number {
  for (let at = from; at + CARD_LENGTH <= to; at += CARD_LENGTH) {
    if (bytes[at] !== 69 || bytes[at + 1] !== 78 || bytes[at + 2] !== 68) continue
    if (isBlank(bytes, at + 3, at + 8)) return at
  }
  return -1
}

/** Blanks, or the zeros that some programs leave after END. */
function isBlank(bytes: Uint8Array, from: number, to: number): boolean {
  for (let at = from; at < to; at++) if (bytes[at] !== 32 && bytes[at] !== 0) return false
  return true
}

/** Reads header bytes, up to the END record or, without one, to the last whole record. Never throws. */
export function parseHeader(bytes: Uint8Array): Header {
  const end = findEnd(bytes, 0, bytes.length)
  const view = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  return Header.ofText(view.toString('latin1', 0, end < 0 ? bytes.length : end))
}
