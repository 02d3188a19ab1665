import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'

const css = readFileSync(new URL('../../../renderer/theme/tokens.css', import.meta.url), 'utf8')

function coloursOf(look: string): Record<string, string> {
  const block = css.split(`[data-look='${look}'] {`)[1]!.split('}')[0]!
  return Object.fromEntries([...block.matchAll(/--([a-z]+):\s*(#[0-9a-f]{6})/g)].map(([, name, hex]) => [name!, hex!]))
}

const bytes = (hex: string) => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16))

/** Relative luminance and contrast by WCAG 2.2, its definitions of the two terms. */
function luminance(hex: string): number {
  const [r, g, b] = bytes(hex).map((byte) => {
    const c = byte / 255
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4
  }) as [number, number, number]
  return 0.2126 * r + 0.7152 * g + 0.0722 * b
}
function contrast(a: string, b: string): number {
  const [dark, light] = [luminance(a), luminance(b)].toSorted((x, y) => x - y) as [number, number]
  return (light + 0.05) / (dark + 0.05)
}

test('the contrast used here is that of the standard: white on black is 21, pure red on black 5.25', () => {
  expect(contrast('#ffffff', '#000000')).toBeCloseTo(21, 6)
  expect(contrast('#ff0000', '#000000')).toBeCloseTo(5.252, 3)
})

describe.each(['warm', 'red-lamp'])('the look %s', (look) => {
  const colours = coloursOf(look)
  const grounds = ['page', 'raised', 'night', 'twilight', 'deep', 'press'] as const

  test.each(grounds)('has words of a contrast of at least 4.5:1 on %s', (ground) => {
    for (const words of ['ink', 'soft'])
      expect(contrast(colours[words]!, colours[ground]!), `${words} on ${ground}`).toBeGreaterThanOrEqual(4.5)
  })

  test('has edges of controls, bars and signs of at least 3:1', () => {
    for (const shape of ['edge', 'fill', 'lamp'])
      for (const ground of ['page', 'raised', 'night'])
        expect(contrast(colours[shape]!, colours[ground]!), `${shape} on ${ground}`).toBeGreaterThanOrEqual(3)
  })

  test('has readable words on a filled button', () => {
    expect(contrast(colours.page!, colours.fill!)).toBeGreaterThanOrEqual(4.5)
  })
})

test('the red lamp has no green and no blue', () => {
  for (const [name, hex] of Object.entries(coloursOf('red-lamp'))) expect(bytes(hex).slice(1), name).toEqual([0, 0])
})

test('both looks name the same colours', () => {
  expect(Object.keys(coloursOf('red-lamp'))).toEqual(Object.keys(coloursOf('warm')))
})
