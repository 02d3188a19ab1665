import type { Need, VerdictWord } from '../contract/index.ts'

/** What a checker should say about a run of the demo night, once its library has been added and nothing built yet. */
export interface ExpectedRun {
  kind: 'light' | 'flat'
  target: string | null
  filter: string
  exposureS: number
  offset: number
  frames: number
  /** `master`: file in the library that matches, or is nearest. `rawThere`: that many raw frames of it wait to be built. */
  needs: Partial<Record<Need, { verdict: VerdictWord; master?: string; rawThere?: number; why: string }>>
}

const luminanceFlat = { verdict: 'due', rawThere: 25, why: 'shot at dawn, not built yet' } as const
const dualBandFlat = {
  verdict: 'matched',
  master: 'master-flat-dual-band.fits',
  why: 'same settings, 64 days old',
} as const

export const expectedRuns: ExpectedRun[] = [
  {
    kind: 'light',
    target: 'Weir Cluster',
    filter: 'luminance',
    exposureS: 30,
    offset: 30,
    frames: 20,
    needs: {
      dark: { verdict: 'matched', master: 'master-dark-030s.fits', why: 'same settings, 430 days old' },
      flat: luminanceFlat,
    },
  },
  {
    kind: 'light',
    target: 'Lantern 3',
    filter: 'dual-band',
    exposureS: 300,
    offset: 30,
    frames: 35,
    needs: {
      dark: { verdict: 'matched', master: 'master-dark-300s.fits', why: 'same settings, before and after the flip' },
      flat: dualBandFlat,
    },
  },
  {
    kind: 'light',
    target: 'Lantern 3',
    filter: 'dual-band',
    exposureS: 300,
    offset: 50,
    frames: 14,
    needs: {
      dark: { verdict: 'due', why: 'no dark has offset 50' },
      flat: { verdict: 'near', master: 'master-flat-dual-band.fits', why: 'the flat has offset 30' },
    },
  },
  {
    kind: 'light',
    target: 'Lantern 3',
    filter: 'sulphur',
    exposureS: 180,
    offset: 30,
    frames: 20,
    needs: {
      dark: { verdict: 'near', master: 'master-dark-180s-colder.fits', why: '1.5 °C colder' },
      flat: { verdict: 'due', rawThere: 0, why: 'none was ever shot' },
    },
  },
  {
    kind: 'light',
    target: 'Ferry Cloud',
    filter: 'luminance',
    exposureS: 120,
    offset: 30,
    frames: 58,
    needs: {
      dark: { verdict: 'due', rawThere: 20, why: 'shot at dawn, not built yet; the one on the shelf has offset 20' },
      flat: luminanceFlat,
    },
  },
  {
    kind: 'flat',
    target: null,
    filter: 'luminance',
    exposureS: 3,
    offset: 30,
    frames: 25,
    needs: { darkFlat: { verdict: 'due', rawThere: 20, why: 'shot at dawn, not built yet' } },
  },
  {
    kind: 'flat',
    target: null,
    filter: 'dual-band',
    exposureS: 4.5,
    offset: 30,
    frames: 25,
    needs: { darkFlat: { verdict: 'due', rawThere: 0, why: 'those shot are 5.4 s long' } },
  },
]
