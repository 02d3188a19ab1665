import { describe, expect, test } from 'vitest'
import { describeCards } from './facts.ts'

const root = '/home/sam/test/astro'
const at = (below: string) => ({ path: `${root}/${below}`, root })

describe('without a kind in the header, names decide and are marked as a guess', () => {
  test.each([
    ['flats/0001.fits', 'flat'],
    ['Flats/Ha/0001.fits', 'flat'],
    ['dark_300s.fits', 'dark'],
    ['dark_300s_001.fits.fz', 'dark'],
    ['calibration/DarkFlats/0001.fit', 'darkFlat'],
    ['calibration/flat darks/0001.FTS', 'darkFlat'],
    ['calibration/dark_flat_3s.fits', 'darkFlat'],
    ['lights/M31/L_0001.fits', 'light'],
    ['2026-11-20/BIAS/0001.fits', 'bias'],
    ['lights/old/darks/0001.fits', 'dark'],
    ['flats/dark_3s.fits', 'dark'],
  ])('%s is a %s', (path, kind) => {
    expect(describeCards({}, at(path))).toMatchObject({ kind, kindFrom: 'name' })
  })

  test.each([
    ['lights/dark_nebula_001.fits', 'the name names another kind than its folder'],
    ['light_and_dark.fits', 'the name names two kinds'],
    ['darksky/0001.fits', 'only whole words count'],
    ['M31_0001.fits', 'no word names a kind'],
  ])('%s tells nothing: %s', (path) => {
    expect(describeCards({}, at(path)).kind).toBe('unknown')
  })

  test('the header comes first, even against the name', () => {
    expect(describeCards({ IMAGETYP: 'Light' }, at('darks/0001.fits'))).toMatchObject({
      kind: 'light',
      kindFrom: 'header',
    })
  })

  test('a dark flat that is labelled plain Dark stays a dark: they are physically one thing', () => {
    expect(describeCards({ IMAGETYP: 'Dark' }, at('darkflats/0001.fits'))).toMatchObject({
      kind: 'dark',
      kindFrom: 'header',
    })
  })

  test('the name of the chosen folder itself tells the kind', () => {
    const file = { path: '/home/sam/flats/0001.fits', root: '/home/sam/flats' }
    expect(describeCards({}, file)).toMatchObject({ kind: 'flat', kindFrom: 'name' })
  })

  test('a Windows path has folders too', () => {
    expect(describeCards({}, { path: 'D:\\astro\\Flats\\0001.fits', root: 'D:\\astro' }).kind).toBe('flat')
  })

  test('a user’s word for a kind is known in header and name', () => {
    const words = { kindWords: { Dunkelbild: 'dark', brut: 'light' } as const }
    expect(describeCards({ IMAGETYP: 'BRUT' }, {}, words)).toMatchObject({ kind: 'light', conflicts: [] })
    expect(describeCards({}, at('Dunkelbild_001.fits'), words).kind).toBe('dark')
  })
})

describe('frames set aside', () => {
  test.each([
    ['focus/0001.fits', '"focus" in its folder'],
    ['AutoFocus_0001.fits', '"focus" in its name'],
    ['M31/autofocus_0001.fits', '"autofocus" in its name'],
    ['lights/culled/0001.fits', '"culled" in its folder'],
    ['trial_flat_3s.fits', '"trial" in its name'],
    ['Pointing/0001.fits', '"pointing" in its folder'],
  ])('%s', (path, asideWhy) => {
    expect(describeCards({ IMAGETYP: 'Light' }, at(path))).toMatchObject({ aside: true, asideWhy })
  })

  test.each(['M31/0001.fits', 'focused/0001.fits', 'contest/0001.fits'])('%s is not', (path) => {
    expect(describeCards({ IMAGETYP: 'Light' }, at(path))).toMatchObject({ aside: false, asideWhy: null })
  })

  test('what stands above the chosen folder, or is its own name, sets nothing aside', () => {
    expect(describeCards({}, { path: '/home/test/focus/0001.fits', root: '/home/test/focus' }).aside).toBe(false)
  })

  test('a user’s words replace the built-in ones', () => {
    const own = { asideWords: ['Essai'] }
    expect(describeCards({}, at('essai_01.fits'), own).aside).toBe(true)
    expect(describeCards({}, at('focus_01.fits'), own).aside).toBe(false)
  })
})

test.each([
  ['masterdark_300s.fits', true],
  ['masters/dark_300s.fits', true],
  ['Master Dark Flat 3s.fits', true],
  ['mastercard_nebula.fits', false],
  ['dark_300s.fits', false],
])('%s: many frames in one file is %s', (path, integrated) => {
  expect(describeCards({ IMAGETYP: 'Dark' }, at(path)).integrated).toBe(integrated)
})
