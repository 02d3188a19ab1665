import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'
import type { FrameFacts } from '../../main/frame/facts.ts'
import type { Writable } from '../../db/handle.ts'
import { openDatabase } from '../../db/open.ts'

/** A folder of its own for one test, gone afterwards. */
export function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'nightshelf-db-'))
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}

/** An empty database of the newest version, closed after the test. */
export function freshDatabase(file = join(freshFolder(), 'nightshelf.db')): Writable {
  const db = openDatabase(file)
  onTestFinished(() => void db.close())
  return db
}

export const someFacts = (change: Partial<FrameFacts> = {}): FrameFacts => ({
  path: '/capture/light_0001.fits',
  kind: 'light',
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
  sensorTempC: -9.9,
  exposureS: 300,
  filter: 'Ha',
  telescope: null,
  focalMm: 480,
  mechAngleDeg: null,
  skyAngleDeg: 12.5,
  cfa: 'RGGB',
  rowOrder: null,
  rig: null,
  train: null,
  target: 'Field 7',
  startedAt: '2026-11-20T21:00:00.000Z',
  night: '2026-11-20',
  aside: false,
  asideWhy: null,
  state: 'ok',
  program: 'Capture 3.1',
  combined: null,
  integrated: false,
  electronsPerAdu: 0.8,
  pixelUm: 3.76,
  siteLatDeg: null,
  siteLongDeg: null,
  lightSource: null,
  conflicts: [],
  ...change,
})
