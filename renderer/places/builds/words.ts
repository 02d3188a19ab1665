import type { BuildGroup } from '../../../main/contract/index.ts'
import type { EventOf } from '../../../main/contract/events.ts'
import { counted, duration, number, unbroken, withUnit } from '../../parts/format.ts'
import { capital, kindWord, kindsWord } from '../../parts/labels.ts'
import { settingValue, temperature } from '../../parts/settings.ts'

/** "Flat, dual-band", "Dark, 300 s": what the master will be. */
export function groupTitle({ kind, settings }: Pick<BuildGroup, 'kind' | 'settings'>): string {
  const which = kind === 'flat' ? settings.filter : settingValue('exposureS', settings.exposureS)
  return [capital(kindWord[kind]), which].filter(Boolean).join(', ')
}

/** Its settings, in the order in which one sets them. */
export function groupSettings({ kind, settings }: Pick<BuildGroup, 'kind' | 'settings'>): string[] {
  const exposure = kind === 'flat' ? settingValue('exposureS', settings.exposureS) : null
  return [
    exposure,
    `gain\u00a0${settingValue('gain', settings.gain) ?? 'not\u00a0known'}`,
    `offset\u00a0${settingValue('offset', settings.offset) ?? 'not\u00a0known'}`,
    temperature(settings),
    settings.camera ?? null,
    settings.rig ? `rig\u00a0${settings.rig}` : null,
  ].filter((part) => part !== null)
}

/** "25 flats go in, 2 stay out". */
export function groupCount({ kind, have, leftOut }: Pick<BuildGroup, 'kind' | 'have' | 'leftOut'>): string {
  const goes = `${counted(have, kindWord[kind], kindsWord[kind])} ${have === 1 ? 'goes' : 'go'} in`
  return leftOut.length ? `${goes}, ${number(leftOut.length)} ${leftOut.length === 1 ? 'stays' : 'stay'} out` : goes
}

/** What a group that waits still lacks: "4 of 10 there: 6 still to be shot". */
export function groupLack({ have, need }: Pick<BuildGroup, 'have' | 'need'>): string {
  if (have >= need) return `${number(have)} there, ${number(need)} are enough`
  return `${number(have)} of ${number(need)} there: ${number(need - have)} still to be shot`
}

/** "12 of 65 frames, 3.4 frames/s, about 16 s left". The pace is the engine's own: what is left over the time that it takes. */
export function progressText({ done, total, leftS }: EventOf<'progress'>): string {
  if (!total) return 'looking at the frames first'
  const far = `${number(done)} of ${counted(total, 'frame')}`
  if (!leftS || done >= total) return far
  const rate = (total - done) / leftS
  return `${far}, ${withUnit(number(rate, rate < 10 ? 1 : 0), 'frames/s')}, about ${duration(leftS)} left`
}

/** How the frames are integrated, as a sentence begins, with true minus signs. */
export const methodText = (method: string) => capital(unbroken(method)).replaceAll(/-(?=\d)/g, '\u2212')
