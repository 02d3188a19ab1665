import type { Judged } from './context.ts'

/** Combinations that take turns on a night: filters, and their exposures. */
const RECENT = 8

/**
 * Numbers for distinct combinations of settings, so that 100 000 lights need few strings: building and hashing a key of a dozen
 * fields costs more than a verdict. Frames come in runs that take turns, so the last few are asked first, the newest before all.
 * @param same whether two frames have the same combination
 * @param keyOf the combination as a string, exact: two frames are `same` just where these are equal
 */
export function createNumbering(
  same: (a: Judged, b: Judged) => boolean,
  keyOf: (frame: Judged) => string,
): (frame: Judged) => number {
  const numbers = new Map<string, number>()
  const recent: { frame: Judged; number: number }[] = []
  return (frame) => {
    for (let i = 0; i < recent.length; i++) {
      const one = recent[i]
      if (!same(frame, one.frame)) continue
      if (i > 0) [recent[0], recent[i]] = [one, recent[0]]
      return one.number
    }
    const key = keyOf(frame)
    const number = numbers.get(key) ?? numbers.size
    numbers.set(key, number)
    if (recent.length < RECENT) recent.push({ frame, number })
    else recent[RECENT - 1] = { frame, number }
    return number
  }
}

/** `map.get(key)`, made where it is not there yet. */
export function obtain<K, V>(map: Map<K, V>, key: K, make: () => V): V {
  let value = map.get(key)
  if (value === undefined) map.set(key, (value = make()))
  return value
}

/**
 * What follows from a list alone, worked out once as long as the list lives: the whole library is asked for every night that is
 * judged. A list that was handed over is not changed any more.
 */
export function onceFor<T extends object, R>(work: (list: T) => R): (list: T) => R {
  const known = new WeakMap<T, R>()
  return (list) => {
    let result = known.get(list)
    if (result === undefined) known.set(list, (result = work(list)))
    return result
  }
}

/** Stands between fields, and for an unknown one; no header value holds either. */
const gap = '\u001f'
const absent = '\u0000'

// Raw values, not the canonical ones of frame/keys.ts: two spellings of one value merely fill two places of a memo.
const join = (values: readonly (string | number | null)[]) =>
  values.map((v) => (v === null ? absent : typeof v === 'number' ? `${v}` : `"${v}`)).join(gap)

/** What a dark's verdict depends on, but for exposure and temperature. */
export const bodyNumbering = () => createNumbering(sameBody, bodyKeyOf)
/** What a flat's verdict depends on, but for its epoch. @param bodyOf a `bodyNumbering` */
export const trainNumbering = (bodyOf: (frame: Judged) => number) =>
  createNumbering(sameTrain, (f) =>
    join([bodyOf(f), f.filter, f.night, f.train, f.telescope, f.focalMm, f.mechAngleDeg]),
  )

const sameBody = (a: Judged, b: Judged) =>
  a.gain === b.gain &&
  a.offset === b.offset &&
  a.camera === b.camera &&
  a.body === b.body &&
  a.rig === b.rig &&
  a.width === b.width &&
  a.height === b.height &&
  a.originX === b.originX &&
  a.originY === b.originY &&
  a.binning === b.binning &&
  a.readout === b.readout &&
  a.cfa === b.cfa &&
  a.rowOrder === b.rowOrder &&
  // Whether a temperature was measured decides the name of the field that it differs in.
  (a.sensorTempC === null) === (b.sensorTempC === null)

const bodyKeyOf = (f: Judged) =>
  join([
    ...[f.camera, f.body, f.rig, f.width, f.height, f.originX, f.originY, f.binning, f.readout, f.gain, f.offset],
    ...[f.cfa, f.rowOrder, f.sensorTempC === null ? 0 : 1],
  ])

const sameTrain = (a: Judged, b: Judged) =>
  a.filter === b.filter &&
  a.night === b.night &&
  a.train === b.train &&
  a.telescope === b.telescope &&
  a.focalMm === b.focalMm &&
  a.mechAngleDeg === b.mechAngleDeg &&
  sameBody(a, b)
