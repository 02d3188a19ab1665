import { MASTER_KINDS, MASTER_STATES, type Asked, type ShelfPage } from '../../contract/index.ts'
import { countMasters, mastersAfter } from '../../../db/tables/masters.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { matchContextOf } from '../settings.ts'

const timeMs = (iso: string | null): number | null => {
  const ms = Date.parse(iso ?? '')
  return Number.isNaN(ms) ? null : ms
}

/** One page of the shelf, as columns: a text that many masters share is said once. */
export function shelfPage({ db, shelf, clock }: Core, { after, most }: Asked<'shelf'>): ShelfPage {
  const lines = mastersAfter(db, after, most)
  const { sensorRules } = matchContextOf(db, instant(clock))
  const texts: string[] = []
  const known = new Map<string, number>()
  const place = (value: string | number | null): number => {
    if (value === null) return -1
    const text = String(value)
    let at = known.get(text)
    if (at === undefined) known.set(text, (at = texts.push(text) - 1))
    return at
  }
  const biasAllowed = new Map<string | null, boolean>()
  const isUnwanted = (camera: string | null): boolean => {
    if (!biasAllowed.has(camera)) biasAllowed.set(camera, sensorRules(camera).biasAllowed.value)
    return !biasAllowed.get(camera)!
  }
  return {
    version: shelf.version,
    total: countMasters(db),
    texts,
    columns: {
      id: lines.map(({ id }) => id),
      kind: lines.map(({ kind }) => MASTER_KINDS.indexOf(kind)),
      state: lines.map(({ state }) => MASTER_STATES.indexOf(state)),
      camera: lines.map(({ camera }) => place(camera)),
      body: lines.map(({ body }) => place(body)),
      filter: lines.map(({ filter }) => place(filter)),
      telescope: lines.map(({ telescope }) => place(telescope)),
      train: lines.map(({ train }) => place(train)),
      rig: lines.map(({ rig }) => place(rig)),
      binning: lines.map(({ binning }) => place(binning)),
      program: lines.map(({ program }) => place(program)),
      readout: lines.map(({ readout }) => place(readout)),
      gain: lines.map(({ gain }) => place(gain)),
      offset: lines.map(({ offset }) => place(offset)),
      width: lines.map(({ width }) => width),
      height: lines.map(({ height }) => height),
      setTempC: lines.map(({ setTempC }) => setTempC),
      sensorTempC: lines.map(({ sensorTempC }) => sensorTempC),
      exposureS: lines.map(({ exposureS }) => exposureS),
      frames: lines.map(({ frames }) => frames),
      madeAtMs: lines.map(({ madeAt }) => timeMs(madeAt)),
      provenAtMs: lines.map(({ provenAt }) => timeMs(provenAt)),
      noise: lines.map(({ noise }) => noise),
      confirmed: lines.map(({ confirmed }) => confirmed),
      unwanted: lines.map(({ kind, camera }) => (kind === 'bias' && isUnwanted(camera) ? 1 : 0)),
    },
  }
}
