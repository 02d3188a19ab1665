import { readCfa, readRowOrder } from './cfa.ts'
import type { Resolver } from './resolve.ts'
import { readWords } from './values.ts'

/** "2x2" from XBINNING and YBINNING, or from one keyword for both; null if one of the two is not known. */
export function readBinning(resolve: Resolver): { binning: string | null; binX: number | null } {
  const x = whole(resolve.number('binX'))
  const y = whole(resolve.number('binY'))
  const both = resolve.words('binning', (text) => {
    const match = /^(\d+)(?:\.0*)?(?:\s*[x×*,:/ ]\s*(\d+)(?:\.0*)?)?$/i.exec(text)
    return match && Number(match[1]) > 0 ? `${Number(match[1])}x${Number(match[2] ?? match[1])}` : null
  })
  const axes = [...resolve.found('binX'), ...resolve.found('binY')]
  if (x !== null && y !== null) {
    if (both === null || both === `${x}x${y}`) return { binning: `${x}x${y}`, binX: x }
    return { binning: resolve.disagree('binning', [...axes, ...resolve.found('binning')]), binX: null }
  }
  if (both !== null) return { binning: both, binX: Number(both.split('x')[0]) }
  if (x !== null || y !== null) resolve.unknown('binning', axes, `${axes[0].keyword} stands without its other axis`)
  return { binning: null, binX: x }
}

const whole = (n: number | null) => (n !== null && Number.isInteger(n) ? n : null)

/**
 * Width of a stored pixel, µm. XPIXSZ is that by its convention (after binning); PIXSIZE1, or an XPIXSZ whose comment says so,
 * is the bare pixel and is multiplied by the binning, if that is known.
 */
export function readPixelUm(resolve: Resolver, binX: number | null): number | null {
  const isBare = (comment: string) => /unbinned|before binning|without binning/i.test(comment)
  const cards = resolve.found('pixelUm')
  const stored = resolve.number(
    'pixelUm',
    cards.filter((card) => !isBare(card.comment)),
  )
  const bareCards = [...resolve.found('unbinnedPixelUm'), ...cards.filter((card) => isBare(card.comment))]
  const bare = resolve.number('unbinnedPixelUm', bareCards)
  const fromBare = bare === null || binX === null ? null : Number((bare * binX).toPrecision(6))
  if (stored === null || fromBare === null) return stored ?? fromBare
  if (Math.abs(stored - fromBare) <= 0.01 * stored) return stored
  return resolve.unknown('pixelUm', [...cards, ...bareCards], `The pixel sizes and the binning do not fit each other`)
}

/** The colour filter array as it lies on the stored pixels, and the order of the rows. */
export function readColour(resolve: Resolver, height: number | null): { cfa: string | null; rowOrder: string | null } {
  const rowOrder = resolve.words('rowOrder', readRowOrder)
  const pattern = resolve.words('cfa')
  const offsetX = resolve.number('cfaX')
  const offsetY = resolve.number('cfaY')
  const cfa = readCfa({ pattern, offsetX, offsetY, rowOrder, height })
  if (cfa !== 'unreadable') return { cfa, rowOrder }
  const cards = resolve.found('cfa')
  const text = `${cards[0].keyword} is "${readWords(cards[0].value)}", which is no pattern of four colours`
  return { cfa: resolve.unknown('cfa', cards.slice(0, 1), text), rowOrder }
}
