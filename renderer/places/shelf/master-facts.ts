import type { Master } from '../../../main/contract/index.ts'
import { sourceWord } from '../flats/now.ts'

type Facts = Record<string, number | string | null>

const SCALE = { adu: 'ADU', unit: '0 to 1' } as const
const SUBTRACTED = { none: 'nothing', bias: 'a bias', darkFlat: 'a dark flat' } as const

/** How it was made; the light source of a flat where somebody told it. */
export function madeFrom(master: Master): Facts {
  const { frames, scale, subtracted, program, lightSource } = master
  return {
    frames,
    scale: scale && SCALE[scale],
    subtracted: subtracted && SUBTRACTED[subtracted],
    program,
    ...(lightSource && { lightSource: sourceWord[lightSource] }),
  }
}
