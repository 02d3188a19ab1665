import { Refusal, type Master, type Need, type Verdict } from '../../contract/index.ts'
import type { PlaneFile } from '../../inspect/plane-file.ts'
import type { FlatFile } from '../../inspect/job.ts'
import type { Judged } from '../../match/context.ts'
import { createJudge } from '../../match/judge.ts'
import { sayDifferences, sayKind, saySettings, sayUnknown } from '../../match/wording.ts'
import { wantedCount } from '../../match/verdict-text.ts'
import { sourcesOfMaster } from '../../../db/tables/raw-frames.ts'
import type { Core } from '../core.ts'
import { noWants, want } from '../night/raw-frames.ts'
import type { Fresh } from './fresh.ts'

/** The master that a frame is held against. */
export interface Choice {
  master: Master
  /** A person chose it, and its settings are not those of the frame, or the frame is one of those that it was made from: proves nothing. */
  forced: boolean
}

/**
 * The master that should match a check frame or a light: one that matches, or a flat that differs in nothing but its epoch, which is
 * what a check flat is for.
 * @param wanted a master to be taken whatever it is
 * @throws Refusal in one sentence that names the nearest master and its differences
 */
export function chooseMaster(core: Core, fresh: Fresh, need: 'dark' | 'flat', wanted?: number): Choice {
  if (wanted !== undefined) return force(core, fresh, need, wanted)
  const masters = core.shelf.masters.filter((master) => !hasTakenIn(core, master, fresh))
  const verdict = judge(core, fresh, need, masters)
  const id = fittingId(verdict, isLight(fresh) ? 'light' : 'check')
  if (id === null) throw refusalOf(core, fresh, need, verdict)
  return { master: masters.find((master) => master.id === id)!, forced: false }
}

const isLight = ({ frame }: Fresh) => frame.kind === 'light'

function force(core: Core, fresh: Fresh, need: 'dark' | 'flat', id: number): Choice {
  const master = core.shelf.masters.find((one) => one.id === id)
  if (!master) throw new Refusal(`There is no master ${id} in the library.`)
  if ((master.kind === 'flat') !== (need === 'flat') || master.kind === 'bias')
    throw new Refusal(`Master ${id} is a ${sayKind(master.kind)}: name a ${sayKind(need)}.`)
  if (master.state === 'damaged')
    throw new Refusal(`Master ${id} is damaged: put a sound copy in its place and verify the library first.`)
  askScale(master)
  const ready = { ...master, state: 'ready' as const }
  const fits = fittingId(judge(core, fresh, need, [ready]), 'check') === id
  return { master, forced: !fits || hasTakenIn(core, master, fresh) }
}

/** A frame proves nothing about a master that it is a part of. */
const hasTakenIn = (core: Core, master: Master, { id }: Fresh) =>
  id !== null && master.sources.length > 0 && sourcesOfMaster(core.db, master.id).some((row) => row.frameId === id)

function judge(core: Core, { frame, groupTempC }: Fresh, need: Need, masters: readonly Master[]): Verdict {
  const kind = need === 'darkFlat' ? ('flat' as const) : ('light' as const)
  const asked = { ...frame, kind, aside: false, state: 'ok' as const, combined: null, integrated: false }
  const wants = noWants()
  want(wants, { ...asked, id: 0, figures: null })
  return createJudge(masters, core.judging.context(wants, frame.night))(asked, groupTempC)[need]!
}

/** A light takes what matches; a check frame also a flat of an earlier epoch, and says whether it may serve in this one. */
function fittingId({ verdict, master, nearest, differences }: Verdict, who: 'light' | 'check'): number | null {
  if (verdict === 'matched') return master
  const epochAlone = verdict === 'near' && differences.every(({ field }) => field === 'epoch')
  return who === 'check' && epochAlone ? nearest : null
}

function refusalOf(core: Core, fresh: Fresh, need: 'dark' | 'flat', verdict: Verdict): Refusal {
  const { frame } = fresh
  const subject = isLight(fresh) ? 'light' : sayKind(need)
  const nearest = core.shelf.masters.find(({ id }) => id === verdict.nearest)
  if (!nearest) {
    const then = `build ${sayKind(need)}s of these settings first, or add a master of them`
    return new Refusal(
      `No ${sayKind(need)} of the library should match this ${subject} (${saySettings(frame)}): ${then}.`,
    )
  }
  if (verdict.verdict === 'unconfirmed') {
    const open = sayUnknown(verdict.differences, 'light').replaceAll('the light', `the ${subject}`)
    const isUntold = nearest.scale === null || nearest.subtracted === null
    return new Refusal(
      `Master ${nearest.id} would fit this ${subject}, but ${open}: tell it first, or choose a master yourself.`,
      { waysOut: [isUntold ? { tell: nearest.path } : { take: nearest.id }] },
    )
  }
  const said = sayDifferences(verdict.differences, 'light').replaceAll('the light has', `this ${subject} has`)
  return new Refusal(
    `No ${sayKind(need)} of the library should match this ${subject}; the nearest is master ${nearest.id} (${said}): build ${sayKind(need)}s of these settings first, or choose a master yourself.`,
    { waysOut: [{ take: nearest.id }] },
  )
}

/** @throws Refusal while nobody has said what a master's numbers mean */
function askScale(master: Master): void {
  if (master.scale === null || master.subtracted === null)
    throw new Refusal(
      `Nobody has said of master ${master.id} yet ${master.scale === null ? 'whether its values are ADU or go from 0 to 1' : 'what was subtracted from its frames'}: tell it first.`,
      { waysOut: [{ tell: master.path }] },
    )
}

/** A master's pixels as ADU. */
export const fileOf = ({ path, scale }: Master): PlaneFile => ({ path, unit: scale === 'unit' })

/**
 * The dark flat that comes off a check flat.
 * @throws Refusal that says what to shoot
 */
export function darkFlatOf(core: Core, fresh: Fresh): Master {
  const verdict = judge(core, fresh, 'darkFlat', core.shelf.masters)
  if (verdict.verdict === 'matched') return core.shelf.masters.find(({ id }) => id === verdict.master)!
  const { tolerances } = core.judging.context(noWants(), fresh.frame.night)
  const what = saySettings({ ...fresh.frame, filter: null, mechAngleDeg: null })
  throw new Refusal(
    `This flat has no dark flat in the library (${verdict.text}): shoot ${wantedCount('darkFlat', tolerances)} dark flats with ${what} and build them, then check again.`,
  )
}

/**
 * A flat master as the arithmetic needs it: from one whose dark flat was never subtracted, it is taken off now.
 * @throws Refusal where that dark flat is not in the library
 */
export function flatFileOf(core: Core, fresh: Fresh, flat: Master): FlatFile {
  if (flat.subtracted !== 'none') return { ...fileOf(flat), less: null }
  const asFrame: Judged = {
    ...flat,
    kind: 'flat',
    night: fresh.frame.night,
    startedAt: flat.madeAt,
    aside: false,
    state: 'ok',
    combined: null,
    integrated: false,
  }
  const verdict = judge(
    core,
    { ...fresh, frame: { ...fresh.frame, ...asFrame }, groupTempC: null },
    'darkFlat',
    core.shelf.masters,
  )
  if (verdict.verdict !== 'matched')
    throw new Refusal(
      `Nothing was subtracted from flat master ${flat.id}, and its dark flat is not in the library (${verdict.text}): take that dark flat in first.`,
    )
  return { ...fileOf(flat), less: fileOf(core.shelf.masters.find(({ id }) => id === verdict.master)!) }
}
