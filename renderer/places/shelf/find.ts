import type { Master } from '../../../main/contract/index.ts'
import { plain } from '../../parts/format.ts'
import { kindWord } from '../../parts/labels.ts'
import { settingValue } from '../../parts/settings.ts'

/** The words under which a master can be found, lower case: all that the table shows of it. */
export function wordsOf(master: Master): string {
  const parts = [
    kindWord[master.kind],
    master.kind === 'darkFlat' ? 'flat dark' : null,
    master.camera,
    master.body,
    master.filter,
    master.telescope,
    master.train,
    master.state,
    master.binning,
    `gain ${master.gain ?? 'unknown'}`,
    `offset ${master.offset ?? 'unknown'}`,
    settingValue('exposureS', master.exposureS),
    settingValue('setTempC', master.setTempC),
    settingValue('sensorTempC', master.sensorTempC),
    master.program,
  ]
  return ` ${plain(parts.filter(Boolean).join(' ')).toLowerCase()} `
}

/**
 * Masters that carry each word that was typed, at the beginning of one of theirs: "dark 300 ha". "flat dark" and
 * "dark flat" are one kind, and a minus sign may be typed as a hyphen.
 */
export function findMasters(masters: readonly Master[], typed: string): Master[] {
  const words = plain(typed).toLowerCase().split(/\s+/).filter(Boolean)
  if (!words.length) return [...masters]
  return masters.filter((master) => {
    const own = wordsOf(master)
    return words.every((word) => own.includes(` ${word}`))
  })
}
