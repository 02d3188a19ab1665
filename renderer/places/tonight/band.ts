import type { Frame } from '../../../main/contract/index.ts'
import type { FrameState, Kind } from '../../../main/contract/words.ts'
import { kindWord } from '../../parts/labels.ts'

const brokenSentence: Partial<Record<FrameState, string>> = {
  broken: 'This file is broken: shoot the frame again.',
  incomplete: 'Still being written.',
  'out of reach': 'Its folder is out of reach.',
  gone: 'Its file is gone.',
}

const serves: Partial<Record<Kind, string>> = {
  dark: 'A dark, logged for the shelf',
  darkFlat: 'A dark flat, logged for its flats',
  bias: 'A bias frame, logged',
  unknown: 'Its kind is not known: name it in the header or the folder',
}

/** What is said of a frame that needs nothing itself. */
export function withoutNeeds(frame: Pick<Frame, 'kind' | 'aside' | 'asideWhy' | 'state'>): string {
  const broken = brokenSentence[frame.state]
  if (broken) return broken
  if (frame.aside) return `Aside${frame.asideWhy ? ` (${frame.asideWhy})` : ''}: needs no calibration`
  return serves[frame.kind] ?? `A ${kindWord[frame.kind]}, logged`
}
