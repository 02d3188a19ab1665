import type { Frame, Master, RuleName } from '../../contract/index.ts'
import { darkKey } from '../../frame/keys.ts'
import { sayCount, sayExposure, sayKinds } from '../../match/wording.ts'
import { levelSteps, type LevelStep } from '../black-level.ts'
import { leastFrames, type Need } from '../needs.ts'
import type { NightView } from '../view.ts'
import { draft, type Draft, type Rule } from './draft.ts'

const dayMs = 86_400_000

/**
 * `flat-aging` and `dark-aging`: once per master that was matched tonight and is old, or since which program or black level have
 * changed, or which did not hold against a check frame.
 */
export const aging: Rule = (view) => {
  const used = new Map<number, { need: Need; frames: Draft['frameIds'] }>()
  for (const { run, frames, verdicts } of view.runs) {
    if (run.aside) continue
    frames.forEach((frame, i) => {
      for (const kind of ['dark', 'flat', 'darkFlat'] as const) {
        const id = verdicts[i][kind]?.master
        const need = view.needs.find((n) => n.kind === kind && n.verdict.master === id)
        if (id == null || !need) continue
        const entry = used.get(id) ?? { need, frames: [] }
        entry.frames.push(frame.id)
        used.set(id, entry)
      }
    })
  }
  const steps = used.size ? levelSteps(view) : new Map<string, LevelStep>()
  const byId = new Map(view.state.frames.map((f) => [f.id, f]))
  return [...used].flatMap(([id, { need, frames }]) => {
    const master = view.masters.get(id)
    if (!master || frames.length < leastFrames) return []
    return agingOf(
      master,
      need,
      view,
      frames.flatMap((f) => byId.get(f) ?? []),
      steps,
    )
  })
}

function agingOf(
  master: Master,
  need: Need,
  view: NightView,
  frames: Frame[],
  steps: ReadonlyMap<string, LevelStep>,
): Draft[] {
  const { tolerances } = view.state.match
  const flat = master.kind === 'flat'
  const since = Math.max(
    ...[master.madeAt, master.provenAt].map((at) => Date.parse(at ?? '')).filter((ms) => !Number.isNaN(ms)),
  )
  const days = Math.floor((view.clock.nowMs - since) / dayMs)
  const old = Number.isFinite(days) && days > (flat ? tolerances.flatAgingDays : tolerances.darkAgingDays)
  const change = flat ? null : (programChange(master, frames, view) ?? levelChange(master, steps))
  const refuted = (master.refutedAt ?? null) !== null
  if (!old && !change && !refuted) return []
  // A flat of a closed epoch can't be checked against the train any more, and nobody can do anything about it.
  if (flat && need.epoch?.endedBy) return []
  const fresh = flat && need.have > 0
  const rule: RuleName = flat ? 'flat-aging' : 'dark-aging'
  const which = flat ? need.sample.filter : master.exposureS === null ? null : sayExposure(master.exposureS)
  const what = `${which === null ? '' : `${which} `}${sayKinds(master.kind, 1)}`
  const there = `${sayCount(need.have, 'flat')} of tonight ${need.have === 1 ? 'is' : 'are'} there`
  const again = `${sayKinds(master.kind, 2)}${flat ? ' before the rig is touched' : ' at any time'}`
  const check = refuted
    ? `A check frame did not hold. ${fresh ? `${there}: build them` : `Shoot new ${again}`}, or retire this one. Another check frame that holds releases it.`
    : fresh
      ? `${there}: hold one against it, or build them.`
      : `Shoot one check ${flat ? 'flat before the rig is touched' : 'dark at any time'}: if it holds, the master serves on.`
  return [
    draft(view, rule, refuted ? [master.id, 'refuted'] : [master.id], {
      severity: flat && !fresh ? 'beforeTeardown' : 'anyTime',
      text: refuted
        ? `The ${what} does not hold any more: ${fresh ? 'build a new one' : `shoot new ${sayKinds(master.kind, 2)}`}`
        : old
          ? `The ${what} is ${days} days old: shoot one check frame`
          : `The ${what} ${change}: shoot one check frame`,
      why: `${sayCount(frames.length, frames[0].kind === 'flat' ? 'flat' : 'light')} rely on it. ${check}`,
      frames,
      master: master.id,
    }),
  ]
}

/** A check frame within the last months has met the new program, or one close to it: one check is enough. */
const provenLately = (master: Master, view: NightView) =>
  view.clock.nowMs - Date.parse(master.provenAt ?? '') < view.state.match.tolerances.darkAgingDays * dayMs

/**
 * "Shutter 2.1, the lights with Shutter 2.3": another version of the capture program may bring another driver and another black
 * level. Told only of masters whose raw frames are in the log: a master's own program is whatever integrated it.
 */
function programChange(master: Master, frames: Frame[], view: NightView): string | null {
  const { capturedWith = null, provenWith = null } = master
  const now = frames.at(-1)?.program ?? null
  if (capturedWith === null || now === null || release(now) === release(capturedWith)) return null
  // A check frame of the new program settles it; of one that is not in the log, only its date is known.
  if (provenWith === null ? provenLately(master, view) : release(now) === release(provenWith)) return null
  return `was made with ${capturedWith}, the frames with ${now}`
}

/** "was made before the black level stepped by +40 ADU": told of every older master of that key, until one check dark holds. */
function levelChange(master: Master, steps: ReadonlyMap<string, LevelStep>): string | null {
  const step = steps.size ? steps.get(darkKey(master)) : undefined
  if (!step || (master.madeAt ?? '') >= step.at || (master.provenAt ?? '') >= step.at) return null
  return `was made before the black level stepped by ${step.adu > 0 ? '+' : '−'}${Math.abs(step.adu).toFixed(0)} ADU`
}

/** Name and first two numbers of a version: builds and nightlies within a release bring no new driver. */
const release = (program: string) =>
  /^(.*?\d+(?:\.\d+)?)/.exec(program.trim())?.[1].toUpperCase() ?? program.trim().toUpperCase()
