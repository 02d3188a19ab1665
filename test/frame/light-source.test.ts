import { expect, test } from 'vitest'
import { describeCards } from './facts.ts'

const root = '/home/sam/astro'
const at = (below: string) => ({ path: `${root}/${below}`, root })

test.each([
  [{ IMAGETYP: 'Sky Flat' }, 'a.fits', 'sky'],
  [{ IMAGETYP: 'SKYFLAT' }, 'a.fits', 'sky'],
  [{ IMAGETYP: 'Twilight Flat' }, 'a.fits', 'sky'],
  [{ IMAGETYP: 'DOMEFLAT' }, 'a.fits', 'screen'],
  [{ IMAGETYP: 'Flat Field' }, 'PanelFlats/0001.fits', 'panel'],
  [{ IMAGETYP: 'FLAT' }, 'flats/sky_0001.fits', 'sky'],
  [{ IMAGETYP: 'FLAT', LIGHTSRC: 'screen' }, 'flats/0001.fits', 'screen'],
  [{ IMAGETYP: 'FLAT' }, 'flats/0001.fits', null],
  [{ IMAGETYP: 'FLAT' }, 'flats/sky_or_panel.fits', null],
  [{ IMAGETYP: 'FLAT', LIGHTSRC: 'lamp 3' }, 'flats/0001.fits', null],
  [{ IMAGETYP: 'Light', OBJECT: 'Dusk 3' }, 'lights/sky_0001.fits', null],
])('%o in %s was lit by: %s', (cards, path, source) => {
  expect(describeCards(cards, at(path)).lightSource).toBe(source)
})
