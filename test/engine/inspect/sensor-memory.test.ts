import { expect, test } from 'vitest'
import { keepSensor, sensorFinder } from '../../../main/engine/inspect/sensor-memory.ts'
import { openDatabase } from '../../../db/open.ts'
import { putSensor, sensorsKept } from '../../../db/tables/sensor-figures.ts'
import { join } from 'node:path'
import { freshFolder } from '../night-files.ts'

const measured = (binning: string | null, ePerAdu: number, gain: number | string = 100) => ({
  ...{ camera: 'Testcam 26', body: null, gain, offset: 30, readout: null, binning },
  measuredAt: '2026-11-20T23:00:00.000Z',
  ePerAdu: { value: ePerAdu, ci95: [ePerAdu - 0.01, ePerAdu + 0.01] as [number, number] },
  temporalDarkNoiseE: { value: 1.5, ci95: [1.4, 1.6] as [number, number] },
  saturationE: null,
  linearityErrorPercent: { min: -0.4, max: 0.3 },
  darkCurrentEPerS: { value: 0.012, ci95: [0.011, 0.013] as [number, number] },
  darkCurrentAtC: -10,
  doublingC: { value: 6.4, ci95: binning === '2x2' ? null : ([6.2, 6.6] as [number, number]) },
  sources: ['/capture/flat1.fits'],
})

test('a sensor keeps its newest figures of each setting and binning, and gives back what was kept', () => {
  const db = openDatabase(join(freshFolder(), 'log.db'))
  keepSensor(db, measured('1x1', 0.25))
  keepSensor(db, measured('2x2', 1))
  keepSensor(db, measured('1x1', 0.26))
  keepSensor(db, measured('1x1', 0.5, 'HI'))
  expect(sensorsKept(db).map(({ id: _, ...figures }) => figures)).toEqual([
    measured('2x2', 1),
    measured('1x1', 0.26),
    measured('1x1', 0.5, 'HI'),
  ])
  db.close()
})

test('figures kept without their binning stand for every binning until one is measured', () => {
  const db = openDatabase(join(freshFolder(), 'log.db'))
  putSensor(db, measured(null, 0.3), [])
  const gainOf = (binning: string) => sensorFinder(sensorsKept(db))({ ...measured(binning, 0) })?.ePerAdu.value
  expect([gainOf('1x1'), gainOf('2x2')]).toEqual([0.3, 0.3])
  keepSensor(db, measured('1x1', 0.25))
  expect([gainOf('1x1'), gainOf('2x2')]).toEqual([0.25, undefined])
  db.close()
})
