import type { Card } from '../../fits/index.ts'

/** Every card of a header as text, for a page. */
export const sayCards = (cards: readonly Card[]) =>
  cards.map(({ keyword, value, comment }) => ({ keyword, value: sayValue(value), comment }))

const sayValue = (value: unknown): string =>
  value === null || value === undefined
    ? ''
    : typeof value === 'boolean'
      ? value
        ? 'T'
        : 'F'
      : typeof value === 'object'
        ? JSON.stringify(value)
        : String(value)
