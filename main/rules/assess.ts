import { URGENCIES, type Notice } from '../contract/index.ts'
import { aging } from './notices/aging.ts'
import { flatLost, nearMatch, noMaster } from './notices/coverage.ts'
import type { Draft, Rule } from './notices/draft.ts'
import { flatBalance, flatClipped, flatDrift, flatLevel, flatShort } from './notices/flat-levels.ts'
import { diskLow, frameBroken, masterDamaged, watchLost, watchStalled } from './notices/keeping.ts'
import { biasUnwanted, pedestalLow, settingsChanged, warm } from './notices/sensor.ts'
import { findShortfall } from './shortfall.ts'
import type { Assessment, NightState } from './state.ts'
import { lookAt, type NightView } from './view.ts'

/** Every rule. To add one: its name in the contract, a function in notices/, a line here, and nights in its test. */
const rules: readonly Rule[] = [
  noMaster,
  flatLost,
  nearMatch,
  aging,
  flatShort,
  flatLevel,
  flatClipped,
  flatBalance,
  flatDrift,
  warm,
  settingsChanged,
  biasUnwanted,
  pedestalLow,
  frameBroken,
  watchLost,
  watchStalled,
  diskLow,
  masterDamaged,
]

/**
 * Runs with their verdicts, notices and shortfall of one night. Pure: the clock is in the state. Notices keep their ids from one
 * assessment to the next; one that is no longer in the answer has closed itself.
 */
export function assess(state: NightState): Assessment {
  const view = lookAt(state)
  const notices = rules.flatMap((rule) => rule(view)).map((draft) => toNotice(draft, view))
  notices.sort(
    (a, b) =>
      URGENCIES.indexOf(a.severity) - URGENCIES.indexOf(b.severity) ||
      Date.parse(b.openedAt) - Date.parse(a.openedAt) ||
      (a.id < b.id ? -1 : 1),
  )
  return { runs: view.runs.map(({ run }) => run), notices, shortfall: findShortfall(view) }
}

/**
 * A notice that was acknowledged before it became urgent speaks again: "before teardown" was heard, "now" was not. Nobody is
 * woken for a night that is over.
 */
function toNotice(draft: Draft, { state, clock }: NightView): Notice {
  const known = state.known?.find((k) => k.id === draft.id)
  const escalated = draft.severity === 'actNow' && known?.severity !== 'actNow'
  const acknowledged = known !== undefined && known.acknowledged && !escalated
  return {
    ...draft,
    openedAt: known?.openedAt ?? new Date(clock.nowMs).toISOString(),
    acknowledged,
    sounds: draft.severity === 'actNow' && !acknowledged && !clock.past,
  }
}

/** The notices that sound now and did not in the assessment before: each is heard once. */
export const newSounds = (before: readonly Notice[], after: readonly Notice[]): Notice[] =>
  after.filter((notice) => notice.sounds && !before.some((old) => old.id === notice.id && old.sounds))
