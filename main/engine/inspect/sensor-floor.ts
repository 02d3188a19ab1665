import { resolve } from 'node:path'
import { Refusal, type Answer, type Asked, type Frame } from '../../contract/index.ts'
import { compareField, darkFields } from '../../frame/keys.ts'
import { compareTemperatures, splitByTemperature } from '../../inspect/floor-by-temperature.ts'
import { findFloor, type FloorFrame } from '../../inspect/floor.ts'
import type { Inspector } from '../../inspect/inspector.ts'
import { isUsable } from '../../match/raw.ts'
import { temperatureOf } from '../../match/tolerance.ts'
import { framesOfKind } from '../../../db/tables/frames.ts'
import type { Core } from '../core.ts'
import { noWants } from '../night/raw-frames.ts'
import { freshFrame } from './fresh.ts'

/** @throws Refusal where there are too few frames, they differ in their settings, or the black level is not known */
export async function findSensorFloor(
  core: Core,
  inspector: Inspector,
  { paths, frames }: Asked<'findFloor'>,
  signal: AbortSignal,
  tell: (done: number, total: number) => void,
): Promise<Answer<'findFloor'>> {
  const all = [
    ...frames.map((frame) => freshFrame(core, { frame })),
    ...paths.map((path) => freshFrame(core, { path })),
  ]
  if (all.length === 0) throw new Refusal('Name frames at three or more short exposures, two of each.')
  const sample = all[0].frame
  for (const { frame } of all) {
    const off = darkFields.find((field) => compareField(frame[field], sample[field]) === 'differs')
    if (off) throw new Refusal(`${frame.path} and ${sample.path} differ in their ${off}: name frames of one setting.`)
  }
  const shots = all.map(({ frame }) => frame)
  const warm = shots.flatMap(withTemperature)
  const groups = warm.length === shots.length ? splitByTemperature(warm) : null
  let done = 0
  /** One file at a time, so that it can be told how far it is. */
  const levelsOf = async (of: readonly Shot[], pedestalAdu: number) => {
    const levels: FloorFrame[] = []
    for (const { path } of of) {
      tell(done++, shots.length)
      levels.push(...(await inspector.levels({ paths: [resolve(path)], pedestalAdu }, signal)))
    }
    return levels
  }
  const rule = ruleOf(core, sample)
  if (groups) return { ...(await atTwoTemperatures(core, inspector, groups, levelsOf, signal)), rule }
  const pedestalAdu = (await blackLevel(core, inspector, sample, null, signal)) ?? refuseBlackLevel()
  try {
    return { ...findFloor(await levelsOf(shots, pedestalAdu)), rule }
  } catch (error) {
    throw error instanceof RangeError ? new Refusal(error.message) : error
  }
}

function ruleOf(core: Core, { camera, night }: Shot): NonNullable<Answer<'findFloor'>['rule']> {
  const { class: chosen, name, floorS } = core.judging.context(noWants(), night).sensorRules(camera)
  return { class: chosen, name, floorS: floorS.value }
}

type Shot = Omit<Frame, 'id' | 'figures'>
type WarmShot = Shot & { tempC: number }

function withTemperature(shot: Shot): WarmShot[] {
  const tempC = temperatureOf(shot)
  return tempC === null ? [] : [{ ...shot, tempC }]
}

/** Compares them; the floor is the cooled frames' where they are enough, for calibration frames are taken cooled. */
async function atTwoTemperatures(
  core: Core,
  inspector: Inspector,
  groups: { cooled: WarmShot[]; uncooled: WarmShot[] },
  read: (shots: readonly Shot[], pedestalAdu: number) => Promise<FloorFrame[]>,
  signal: AbortSignal,
): Promise<Answer<'findFloor'>> {
  const levelsOf = async (shots: WarmShot[]) =>
    (await read(shots, 0)).map((level, i) => ({ ...level, tempC: shots[i].tempC }))
  const blackOf = ([shot]: WarmShot[]) => blackLevel(core, inspector, shot, shot.tempC, signal)
  const pedestals = { cooled: await blackOf(groups.cooled), uncooled: await blackOf(groups.uncooled) }
  const pedestalAdu = pedestals.cooled ?? pedestals.uncooled ?? refuseBlackLevel()
  const cooled = await levelsOf(groups.cooled)
  const compared = compareTemperatures(cooled, await levelsOf(groups.uncooled), pedestals)
  try {
    return { ...findFloor(cooled.map((f) => ({ ...f, levelAdu: f.levelAdu - pedestalAdu }))), compared }
  } catch (error) {
    if (error instanceof RangeError) return { floorS: null, points: [], text: error.message, compared }
    throw error
  }
}

function refuseBlackLevel(): never {
  throw new Refusal(
    'The black level is not known: log one dark or dark flat of the same camera, gain and offset first.',
  )
}

/**
 * Median of the shortest covered frame of the same settings, within 5 °C of a temperature unless that is null: without it, no
 * level can be told to follow its exposure. Null where there is none.
 */
async function blackLevel(
  core: Core,
  inspector: Inspector,
  sample: Shot,
  tempC: number | null,
  signal: AbortSignal,
): Promise<number | null> {
  const isAsWarm = (one: Pick<Frame, 'sensorTempC' | 'setTempC'>) =>
    tempC === null || Math.abs((temperatureOf(one) ?? Infinity) - tempC) <= 5
  const alike = (one: Pick<Frame, (typeof darkFields)[number] | 'sensorTempC' | 'setTempC'>) =>
    isAsWarm(one) && darkFields.every((field) => compareField(one[field], sample[field]) !== 'differs')
  const covered = (['bias', 'darkFlat', 'dark'] as const)
    .flatMap((kind) => framesOfKind(core.db, kind))
    .filter((frame) => isUsable(frame) && alike(frame) && frame.exposureS !== null)
    .sort((a, b) => a.exposureS! - b.exposureS!)
  if (covered[0]) {
    if (covered[0].figures) return covered[0].figures.median
    return (await inspector.levels({ paths: [covered[0].path], pedestalAdu: 0 }, signal))[0].levelAdu
  }
  const master = core.shelf.masters
    .filter((m) => m.kind !== 'flat' && m.state === 'ready' && m.scale !== null && m.subtracted === 'none' && alike(m))
    .sort((a, b) => (a.exposureS ?? Infinity) - (b.exposureS ?? Infinity))[0]
  if (!master) return null
  const file = { path: master.path, unit: master.scale === 'unit' }
  return (await inspector.signal({ master: file, cfa: master.cfa !== null }, signal)).medianAdu
}
