import type { Handlers } from '../../contract/index.ts'
import type { Core } from '../core.ts'
import type { Inspections } from '../inspect/inspections.ts'
import { sensorsKept } from '../../../db/tables/sensor-figures.ts'

type Names = 'checkFlat' | 'checkDark' | 'proof' | 'checksOf' | 'sensorFigures' | 'measureSensors' | 'findFloor'

export const inspectHandlers = (core: Core, inspections: Inspections): Pick<Handlers, Names> => ({
  checkFlat: (ask) => inspections.checkFlat(ask),
  checkDark: (ask) => inspections.checkDark(ask),
  proof: (ask) => inspections.proof(ask),
  sensorFigures: () => ({ sensors: sensorsKept(core.db).map(({ id: _, ...figures }) => figures) }),
  measureSensors: () => inspections.measureSensors(),
  findFloor: (ask) => inspections.findFloor(ask),
  checksOf: ({ master }) => ({ checks: inspections.checksOf(master) }),
})
