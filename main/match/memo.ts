import type { Judged } from './context.ts'

/**
 * Numbers for distinct combinations of settings, so that 100 000 lights need few strings: building and hashing a key of a dozen
 * fields costs more than a verdict. Frames come in runs, so the frame before is asked first.
 * @param same whether two frames have the same combination
 * @param keyOf the combination as a string, exact: two frames are `same` just where these are equal
 */
export function createNumbering(
  same: (a: Judged, b: Judged) => boolean,
  keyOf: (frame: Judged) => string,
): (frame: Judged) => number {
  const numbers = new Map<string, number>()
  let before: Judged | null = null
  let number = -1
  return (frame) => {
    if (before && same(frame, before)) return number
    before = frame
    const key = keyOf(frame)
    const known = numbers.get(key)
    number = known ?? numbers.size
    if (known === undefined) numbers.set(key, number)
    return number
  }
}

/** `map.get(key)`, made where it is not there yet. */
export function obtain<K, V>(map: Map<K, V>, key: K, make: () => V): V {
  let value = map.get(key)
  if (value === undefined) map.set(key, (value = make()))
  return value
}

/** Stands between fields, and for an unknown one; no header value holds either. */
const gap = '\u001f'
const absent = '\u0000'

// Raw values, not the canonical ones of frame/keys.ts: two spellings of one value merely fill two places of a memo.
const join = (values: readonly (string | number | null)[]) =>
  values.map((v) => (v === null ? absent : typeof v === 'number' ? `${v}` : `"${v}`)).join(gap)

/** What a dark's verdict depends on, but for exposure and temperature. */
export const bodyNumbering = () => createNumbering(sameBody, bodyKeyOf)
/** What a flat's verdict depends on, but for its epoch. */
export const trainNumbering = () => createNumbering(sameTrain, trainKeyOf)

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

const trainKeyOf = (f: Judged) =>
  bodyKeyOf(f) + gap + join([f.filter, f.night, f.train, f.telescope, f.focalMm, f.mechAngleDeg])
