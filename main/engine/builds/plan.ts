import type { Frame, Master, MasterKind, Settings } from '../../contract/index.ts'
import { defaultMethod, type Method } from '../../integrate/method.ts'
import type { Judge, MatchContext } from '../../match/context.ts'
import { createJudge } from '../../match/judge.ts'
import { sayCount, sayExposure, sayKind, saySettings } from '../../match/wording.ts'
import type { Steps } from '../slices.ts'
import { doubtsOf } from './belongs.ts'
import { groupRaw, type RawSet } from './groups.ts'

export interface LeftOut {
  frame: Frame
  reason: string
}

/** What a flat's frames are less: a master of the library, or one that this plan builds before. */
export interface DarkFlatChoice {
  master: number | null
  group: string | null
  /** The exposures differ from it, within what is near: auto-exposed flats. */
  near: boolean
}

export interface PlannedBuild {
  id: string
  kind: MasterKind
  settings: Settings
  epoch: string | null
  frames: Frame[]
  leftOut: LeftOut[]
  need: number
  /** Why it waits, one sentence; null where it can be built. */
  reason: string | null
  darkFlat: DarkFlatChoice | null
  method: Method
}

export interface PlanOptions {
  least: number
  /** Frames put back by hand: nothing but a broken file keeps them out. */
  keep?: readonly number[]
}

/**
 * What can be built from these raw frames, dark flats before the flats that need them, with everything that is left out named before
 * anything is computed. Pure: the same frames, masters and context give the same plan.
 * @param frames raw calibration frames that no sound master has taken in, broken ones included
 */
export function* planBuilds(
  frames: readonly Frame[],
  masters: readonly Master[],
  context: MatchContext,
  { least, keep = [] }: PlanOptions,
): Steps<PlannedBuild[]> {
  const kept = new Set(keep)
  const sets = yield* groupRaw(frames, context.changes)
  const darks: PlannedBuild[] = []
  const flats: PlannedBuild[] = []
  for (const set of sets) {
    const plans = set.kind === 'flat' ? flats : darks
    plans.push(planOne(set, context, least, kept))
    yield
  }
  const toCome = darks.filter((build) => build.reason === null).map(asMaster)
  const judge = createJudge([...masters, ...toCome], context)
  for (const flat of flats) {
    chooseDarkFlat(flat, judge, toCome, darks)
    yield
  }
  return [...darks, ...flats]
}

function planOne(set: RawSet, context: MatchContext, least: number, kept: ReadonlySet<number>): PlannedBuild {
  const rules = context.sensorRules(set.settings.camera)
  const doubt = doubtsOf(set.frames, rules, context.tolerances)
  const leftOut = set.frames.flatMap((frame): LeftOut[] => {
    const reason = doubt(frame)
    const unusable = frame.state === 'broken' || frame.state === 'out of reach'
    return reason !== null && (unusable || !kept.has(frame.id)) ? [{ frame, reason }] : []
  })
  const out = new Set(leftOut.map(({ frame }) => frame.id))
  const frames = set.frames.filter((frame) => !out.has(frame.id))
  const refused =
    set.kind === 'bias' && !rules.biasAllowed.value
      ? `${rules.name} need dark flats, not bias frames: ${lower(rules.biasAllowed.reason)}`
      : null
  return {
    id: set.id,
    kind: set.kind,
    settings: set.settings,
    epoch: set.epoch,
    frames,
    leftOut,
    need: least,
    reason: refused ?? tooFew(set.kind, frames.length, least, leftOut.length),
    darkFlat: null,
    method: defaultMethod(frames.length),
  }
}

const lower = (text: string) => text.charAt(0).toLowerCase() + text.slice(1)

function tooFew(kind: MasterKind, have: number, least: number, leftOut: number): string | null {
  if (have >= least) return null
  const without = leftOut ? ` after ${leftOut} ${leftOut === 1 ? 'was' : 'were'} left out` : ''
  return `There are ${sayCount(have, kind)}${without}, and ${least} are needed: shoot ${least - have} more.`
}

/** A build as the master that it will be, so that one judge answers for what is there and what is to come. */
function asMaster(build: PlannedBuild, index: number): Master & { group: string } {
  return {
    ...build.settings,
    id: -1 - index,
    group: build.id,
    kind: build.kind,
    path: '',
    frames: build.frames.length,
    madeAt: build.frames[0].startedAt,
    provenAt: null,
    ageDays: null,
    epoch: null,
    state: 'ready',
    sha256: '',
    scale: 'adu',
    subtracted: 'none',
    program: null,
    figures: null,
    sources: [],
  }
}

/** Sets the flat's dark flat, or why it has to wait for one. */
function chooseDarkFlat(
  flat: PlannedBuild,
  judge: Judge,
  toCome: readonly (Master & { group: string })[],
  darks: readonly PlannedBuild[],
): void {
  if (flat.frames.length === 0) return
  const sample: Frame = { ...flat.frames[0], ...flat.settings }
  const verdict = judge(sample).darkFlat
  const chosen = verdict?.verdict === 'matched' ? verdict.master : verdict?.verdict === 'near' ? verdict.nearest : null
  const near = verdict?.verdict === 'near'
  const exposureAlone = verdict?.differences.every(({ field }) => field === 'exposureS') ?? false
  if (chosen !== null && (!near || (exposureAlone && isAutoExposed(flat.frames)))) {
    const planned = toCome.find((master) => master.id === chosen)
    flat.darkFlat = { master: planned ? null : chosen, group: planned?.group ?? null, near }
    return
  }
  flat.reason ??= lacksDarkFlat(flat, darks)
}

/** Exposures that differ by more than the tolerance of a key: the capture software chose each. */
function isAutoExposed(frames: readonly Frame[]): boolean {
  const known = frames.flatMap((frame) => frame.exposureS ?? [])
  return known.length > 1 && Math.max(...known) > 1.001 * Math.min(...known) + 0.01
}

function lacksDarkFlat({ settings }: PlannedBuild, darks: readonly PlannedBuild[]): string {
  const { exposureS } = settings
  const started = darks.find(
    (build) =>
      build.reason !== null &&
      build.kind !== 'bias' &&
      exposureS !== null &&
      Math.abs((build.settings.exposureS ?? -1) - exposureS) <= 0.1 * exposureS,
  )
  if (started)
    return `Its dark flat is not there yet: of ${sayKind('darkFlat')}s at ${sayExposure(exposureS!)} there are ${started.frames.length}, and ${started.need} are needed.`
  return `Its dark flat is missing: shoot dark flats with ${saySettings({ ...settings, filter: null, mechAngleDeg: null })}.`
}
