import type { Frame, Urgency } from '../../contract/index.ts'
import { isWhole } from '../../match/raw.ts'
import { sayKind } from '../../match/wording.ts'
import { endMs, longestWaitS, startMs } from '../cadence.ts'
import { leastFrames } from '../needs.ts'
import { sayTime } from '../night-clock.ts'
import type { NightView } from '../view.ts'
import { draft, type Rule } from './draft.ts'

const nameOf = (path: string) => path.split(/[\\/]/).at(-1)

/** `frame-broken`: files that are shorter than their header says, cannot be parsed or cannot be read; one for each cause. */
export const frameBroken: Rule = (view) => [...cutShort(view), ...passedOver(view)]

/** A file that is still short after this time, s, will not grow any more. */
const patienceS = 10 * 60

const cutShort: Rule = (view) =>
  [...view.byRig].flatMap(([rig, all]) => {
    const overdue = (f: Frame) => view.clock.past || view.clock.nowMs - endMs(f) > patienceS * 1000
    const broken = all.filter((f) => f.state === 'broken' || (f.state === 'incomplete' && overdue(f)))
    if (!broken.length) return []
    const name = nameOf(broken[0].path)
    return [
      draft(view, 'frame-broken', [rig], {
        severity: 'note',
        text: broken.length === 1 ? `One file is broken: ${name}` : `${broken.length} files are broken`,
        why: `${broken.length === 1 ? 'It is not whole, and nothing can be made of it' : 'They are not whole, and nothing can be made of them'}. A cable, a full disk or a program that was stopped may be why.`,
        frames: broken,
      }),
    ]
  })

const passedOver: Rule = (view) => {
  const byCause = Map.groupBy(view.state.passedOver ?? [], ({ rig, cause }) => `${rig ?? ''}\n${cause}`)
  return [...byCause.values()].map((paths) => {
    const [{ rig, cause, path, reason }] = paths
    const more = paths.length > 1 ? ` and ${paths.length - 1} more` : ''
    const notice = draft(view, 'frame-broken', [rig, cause], {
      severity: 'note',
      text: `Not logged: ${nameOf(path)}${more}`,
      why: more ? `${reason} The same holds for the others.` : reason,
    })
    return { ...notice, frames: paths.length }
  })
}

/** Frames came this lately, s, and the night is on, daylight or not. */
const lively = 2 * 3600

/** Whether anybody would want to be woken: lights can be taken, or frames keep coming. */
function nightIsOn({ clock, state }: NightView): boolean {
  if (clock.past) return false
  if (clock.nowMs >= clock.duskMs && clock.nowMs < clock.dawnMs && state.frames.length > 0) return true
  return state.frames.some((f) => clock.nowMs - endMs(f) <= lively * 1000)
}

const wakes = (view: NightView): Urgency => (nightIsOn(view) ? 'actNow' : 'anyTime')

/** `watch-lost`: a watched folder cannot be reached. Nothing in it counts as deleted. */
export const watchLost: Rule = (view) => {
  if (view.clock.past) return []
  return (view.state.watches ?? [])
    .filter((watch) => watch.lostSince !== null)
    .map((watch) =>
      draft(view, 'watch-lost', [watch.path], {
        severity: wakes(view),
        text: `The folder ${watch.path} is out of reach`,
        why: `Since ${sayTime(Date.parse(watch.lostSince ?? ''), view.state.zone)}. Look to the cable, the disk or the network. When it is back, what came meanwhile is caught up by itself.`,
      }),
    )
}

const stalledS = 15 * 60
/** A longer pause was weather, not routine, and is not learned from. */
const longestRoutineS = 3600

/**
 * `watch-stalled`: in mid-run no frame has landed for the longer of 15 minutes and the pauses that this night has shown (a
 * focus run, a flip), or for one and a half exposures where those are long. Quiet after dawn, and once the rig was taken apart.
 */
export const watchStalled: Rule = (view) => {
  const { clock, state } = view
  if (clock.past || clock.afterDawn) return []
  return [...view.byRig].flatMap(([rig, all]) => {
    const frames = all.filter((f) => isWhole(f) && !Number.isNaN(startMs(f)))
    const last = frames.filter((f) => !f.aside).at(-1)
    const run = view.runs.find((r) => last !== undefined && r.frames.includes(last))
    if (!last || last.kind !== 'light' || !run || run.run.frames < leastFrames) return []
    const closed = state.match.changes.some(
      (c) => c.rig === rig && c.undoneAt === null && Date.parse(c.at) > startMs(last),
    )
    if (closed) return []
    // A frame set aside is a sign of life too.
    const landed = Math.max(...frames.map(endMs))
    const pause = Math.min(longestRoutineS, longestWaitS(frames))
    const waitS = Math.max(stalledS, pause, 1.5 * ((last.exposureS ?? 0) + view.readoutOf(rig).seconds))
    const silentS = (clock.nowMs - landed) / 1000
    if (silentS <= waitS) return []
    const minutes = Math.round(silentS / 60)
    return [
      draft(view, 'watch-stalled', [rig], {
        severity: 'actNow',
        text: `No frame for ${minutes} min${run.run.target ? `, in the middle of ${run.run.target}` : ''}`,
        why: `The last ${sayKind('light')} landed at ${sayTime(landed, state.zone)}. The capture program may have stopped, lost its guide star or met clouds.`,
        frames: [last],
      }),
    ]
  })
}

/** Hours of room below which somebody should make some. */
const leastRoomH = 2

/** `disk-low`: room for less than two hours at tonight's pace. */
export const diskLow: Rule = (view) => {
  const { roomH } = view.state
  if (roomH == null || roomH >= leastRoomH || view.clock.past) return []
  const minutes = Math.max(0, Math.round((roomH * 60) / 5) * 5)
  return [
    draft(view, 'disk-low', [], {
      severity: wakes(view),
      text: `The capture disk is full in ${minutes} min`,
      why: "At tonight's pace there is room for no more. Make room on it, or let the capture program write elsewhere.",
    }),
  ]
}

/** `master-damaged`: masters whose bytes are no longer what they were. One notice for all: the cause is a disk, not a master. */
export const masterDamaged: Rule = (view) => {
  const damaged = view.state.masters.filter((m) => m.state === 'damaged')
  if (!damaged.length) return []
  const name = nameOf(damaged[0].path)
  return [
    draft(view, 'master-damaged', [], {
      severity: 'anyTime',
      text: damaged.length === 1 ? `A master is damaged: ${name}` : `${damaged.length} masters are damaged`,
      why: 'The file is not what it was when it came to the shelf, and matches nothing any more. Bring it back from a backup, or build it anew; then look after the disk.',
    }),
  ]
}
