import type { Frame, Master } from '../../main/contract/index.ts'
import { capital, kindWord } from './labels.ts'
import { settingValue } from './settings.ts'

/** "Light, Heart 1, dual-band". */
export const frameTitle = ({ kind, target, filter }: Frame): string =>
  [capital(kindWord[kind]), target, filter].filter(Boolean).join(', ')

/** "Flat, dual-band, 3 s". */
export const masterTitle = ({ kind, filter, exposureS }: Master): string =>
  [capital(kindWord[kind]), filter, settingValue('exposureS', exposureS)].filter(Boolean).join(', ')
