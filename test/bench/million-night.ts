import type { Kind } from '../../main/contract/index.ts'
import type { FrameFacts } from '../../main/frame/facts.ts'

/** One night of 1 000 frames: 600 lights through four filters, 200 flats, 100 dark flats, 100 darks. */
export function rows(night: string): FrameFacts[] {
  const startMs = Date.parse(`${night}T18:00:00Z`)
  return Array.from({ length: 1000 }, (_, i) => {
    const kind: Kind = i < 600 ? 'light' : i < 800 ? 'flat' : i < 900 ? 'darkFlat' : 'dark'
    const filter = kind === 'light' || kind === 'flat' ? ['L', 'Ha', 'OIII', 'SII'][Math.floor(i / 50) % 4] : null
    return {
      path: `/capture/${night}/${kind}/${String(i).padStart(4, '0')}.fits`,
      kind,
      kindFrom: 'header',
      camera: 'Testcam 26',
      body: null,
      width: 4144,
      height: 2822,
      originX: null,
      originY: null,
      binning: '1x1',
      readout: 'Low noise',
      gain: 100,
      offset: 30,
      setTempC: -10,
      sensorTempC: -10 + ((i * 7) % 5) / 10 - 0.2,
      exposureS: kind === 'light' ? 60 : kind === 'dark' ? 60 : 3,
      filter,
      telescope: null,
      focalMm: 480,
      mechAngleDeg: null,
      skyAngleDeg: null,
      cfa: null,
      rowOrder: null,
      rig: null,
      train: null,
      target: kind === 'light' ? `Field ${Math.floor(i / 200)}` : null,
      startedAt: new Date(startMs + i * 40_000).toISOString(),
      night,
      aside: false,
      asideWhy: null,
      state: 'ok',
      program: 'Capture 3.1',
      combined: null,
      integrated: false,
      electronsPerAdu: null,
      pixelUm: 3.76,
      siteLatDeg: null,
      siteLongDeg: null,
      conflicts: [],
    }
  })
}
