import { MASTER_KINDS, MASTER_STATES, type Master, type ShelfPage } from '../../../main/contract/index.ts'

/** Masters as the engine's page of the shelf has them. */
export function shelfPageOf(masters: readonly Master[]): ShelfPage {
  const texts: string[] = []
  const place = (value: string | number | null) => {
    if (value === null) return -1
    const at = texts.indexOf(String(value))
    return at < 0 ? texts.push(String(value)) - 1 : at
  }
  const all = <T>(of: (master: Master) => T) => masters.map(of)
  const ms = (iso: string | null) => (iso === null ? null : Date.parse(iso))
  return {
    version: '1',
    total: masters.length,
    texts,
    columns: {
      id: all((m) => m.id),
      kind: all((m) => MASTER_KINDS.indexOf(m.kind)),
      state: all((m) => MASTER_STATES.indexOf(m.state)),
      camera: all((m) => place(m.camera)),
      body: all((m) => place(m.body)),
      filter: all((m) => place(m.filter)),
      telescope: all((m) => place(m.telescope)),
      train: all((m) => place(m.train)),
      rig: all((m) => place(m.rig)),
      binning: all((m) => place(m.binning)),
      program: all((m) => place(m.program)),
      readout: all((m) => place(m.readout)),
      gain: all((m) => place(m.gain)),
      offset: all((m) => place(m.offset)),
      width: all((m) => m.width),
      height: all((m) => m.height),
      setTempC: all((m) => m.setTempC),
      sensorTempC: all((m) => m.sensorTempC),
      exposureS: all((m) => m.exposureS),
      frames: all((m) => m.frames),
      madeAtMs: all((m) => ms(m.madeAt)),
      provenAtMs: all((m) => ms(m.provenAt)),
      noise: all((m) => m.figures?.noise ?? null),
      confirmed: all((m) => Number(m.scale !== null && m.subtracted !== null)),
      unwanted: all((m) => Number(m.kind === 'bias')),
    },
  }
}
