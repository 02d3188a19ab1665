import type { Master, Urgency } from '../../contract/index.ts'
import { compareField, darkFields } from '../../frame/keys.ts'
import { list, sayCount, sayDifference, sayExposure, sayKinds, saySettings } from '../../match/wording.ts'
import { wantedCount } from '../../match/verdict-text.ts'
import { leastFrames, type Need } from '../needs.ts'
import { canBeShot, urgencyOf } from '../urgency.ts'
import type { NightView } from '../view.ts'
import { draft, type Draft, type Rule } from './draft.ts'

/** Raw frames enough to build a master from: nothing is missing that a sleepy person would have to get up for. */
const canBeBuilt = (need: Need, view: NightView) => need.have >= view.state.match.tolerances.leastToBuild

const waiting = (view: NightView, words: readonly string[]) =>
  view.needs.filter(
    (need) => need.frames.length >= leastFrames && words.includes(need.verdict.verdict) && !canBeBuilt(need, view),
  )

/** `no-dark`, `no-flat`, `no-dark-flat`: nothing on the shelf fits, and nothing waits to be built. */
export const noMaster: Rule = (view) =>
  waiting(view, ['due', 'missing']).flatMap((need) => {
    // A flat that the absent camera can't take any more is no news: the verdict says so, and nothing can be done.
    if (need.kind !== 'dark' && !canBeShot(need, view.state.match.gone ?? [])) return []
    return [
      need.kind === 'dark' ? noDark(need, view) : need.kind === 'flat' ? noFlat(need, view) : noDarkFlat(need, view),
    ]
  })

function noDark(need: Need, view: NightView): Draft {
  const lights = sayCount(need.frames.length, 'light')
  const missing = need.verdict.verdict === 'missing'
  return draft(view, 'no-dark', [need.key], {
    severity: 'anyTime',
    text: `No dark for ${lights}: ${saySettings({ ...need.sample, filter: null, mechAngleDeg: null })}`,
    why: missing
      ? `${sentence(need.verdict.text)}; it can't be shot any more.`
      : `${sentence(need.verdict.text)}. Shoot ${shoot(need, view)} at any time: camera only, light-tight cap.`,
    frames: need.frames,
  })
}

function noFlat(need: Need, view: NightView): Draft {
  const { filter } = need.sample
  const severity = urgencyOf(need, view)
  const since = need.epoch?.begunBy ? ' since the train was changed' : ' yet'
  return draft(view, 'no-flat', [need.key], {
    severity,
    text: `No ${filter ? `${filter} ` : ''}flat${since}: ${sayCount(need.frames.length, 'light')} wait`,
    why: `${severity === 'actNow' ? 'This is the last chance: s' : 'S'}hoot ${shoot(need, view)} before the rig is touched. After teardown it can't be made up.`,
    frames: need.frames,
  })
}

function noDarkFlat(need: Need, view: NightView): Draft {
  const flats = sayCount(need.frames.length, 'flat')
  const { filter, exposureS } = need.sample
  const other = wrongLength(need, view)
  return draft(view, 'no-dark-flat', [need.key], {
    severity: urgencyOf(need, view),
    text: `No dark flat for ${flats}${filter ? ` (${filter})` : ''}${exposureS === null ? '' : ` of ${sayExposure(exposureS)}`}`,
    why: `${other ?? `${sentence(need.verdict.text)}.`} Shoot ${shoot(need, view)}, panel off and covered, the sensor as cold.`,
    frames: need.frames,
  })
}

/**
 * Dark flats shot tonight with all but the right exposure: two digits swapped, or the flats' exposure changed since. Of several,
 * those closest in length, unless other flats of the night have use for them.
 */
function wrongLength(need: Need, view: NightView): string | null {
  const wanted = need.sample.exposureS
  if (wanted === null) return null
  const useful = view.needs.filter((n) => n.kind === 'darkFlat').map((n) => n.sample.exposureS)
  const ratio = (exposureS: number | null) => Math.abs(Math.log((exposureS ?? 0) / wanted))
  const [other] = (view.state.match.raw ?? [])
    .filter(
      (raw) =>
        (raw.kind === 'darkFlat' || raw.kind === 'dark') &&
        ratio(raw.exposureS) < Math.log(mistyped) &&
        !useful.includes(raw.exposureS) &&
        Date.parse(raw.lastAt ?? '') >= view.clock.beginsMs &&
        darkFields.every((field) => compareField(need.sample[field], raw[field]) === 'equal'),
    )
    .sort((a, b) => ratio(a.exposureS) - ratio(b.exposureS) || b.count - a.count)
  if (!other) return null
  return `${sayCount(other.count, 'darkFlat')} are there, but of ${sayExposure(other.exposureS ?? 0)}; the flats have ${sayExposure(wanted)}.`
}

/** Beyond this factor it is no slip but a dark for something else. */
const mistyped = 3

const shoot = (need: Need, view: NightView) => {
  const left = wantedCount(need.kind, view.state.match.tolerances) - need.have
  const settings =
    need.kind === 'flat' ? { ...need.sample, exposureS: null } : { ...need.sample, filter: null, mechAngleDeg: null }
  return `${left}${need.have ? ' more' : ''} ${sayKinds(need.kind, left)} (${saySettings(settings)})`
}

/** `flat-lost`: the train was changed before a flat was shot, and none from before or after is known to hold. */
export const flatLost: Rule = (view) =>
  view.needs
    .filter((need) => need.verdict.verdict === 'lost' && need.frames.length >= leastFrames)
    .map((need) =>
      draft(view, 'flat-lost', [need.key], {
        severity: 'note',
        text: `${need.sample.filter ? `${need.sample.filter}: n` : 'N'}o flat for ${sayCount(need.frames.length, 'light')}, and the train was changed`,
        why: `${sentence(need.verdict.text)}. If the change was logged by mistake, take it back; an older flat serves if a check flat shows that it holds.`,
        frames: need.frames,
      }),
    )

/** `near-match`: once per master that nearly fits. Quiet when a check frame has held since the night began, or when better is about to be built. */
export const nearMatch: Rule = (view) => {
  const byMaster = new Map<number, Need[]>()
  for (const need of waiting(view, ['near'])) {
    const id = need.verdict.nearest
    if (id !== null) byMaster.set(id, [...(byMaster.get(id) ?? []), need])
  }
  return [...byMaster].flatMap(([id, needs]) => {
    const master = view.masters.get(id)
    if (!master || provenSince(master, view.clock.beginsMs)) return []
    const frames = needs.flatMap((need) => need.frames)
    const [first] = needs
    const wants = first.kind === 'darkFlat' ? 'flat' : 'light'
    const differences = list([
      ...new Set(needs.flatMap((n) => n.verdict.differences.map((d) => sayDifference(d, wants)))),
    ])
    return [
      draft(view, 'near-match', [id], {
        severity: severityOfNear(first, view),
        text: `${sentence(sayKinds(first.kind, 1))} only near for ${sayCount(frames.length, wants)}: ${differences}`,
        why: `${sentence(first.verdict.text)}. Shoot fresh ones, or one check frame to see whether it holds: nothing is scaled to fit.`,
        frames,
      }),
    ]
  })
}

const provenSince = (master: Master, sinceMs: number) => Date.parse(master.provenAt ?? '') >= sinceMs

/** A check flat can be shot only while the train stands; a check dark at any time. */
function severityOfNear(need: Need, view: NightView): Urgency {
  if (need.kind === 'flat') return need.epoch?.endedBy ? 'note' : 'beforeTeardown'
  return canBeShot(need, view.state.match.gone ?? []) ? 'anyTime' : 'note'
}

const sentence = (text: string) => text.charAt(0).toUpperCase() + text.slice(1)
