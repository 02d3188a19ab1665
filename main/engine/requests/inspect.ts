import type { Handlers } from '../../contract/index.ts'
import type { inspectRequests, sensorRequests } from '../../contract/requests/inspect.ts'
import type { Core } from '../core.ts'
import type { Inspections } from '../inspect/inspections.ts'
import { sensorsKept } from '../../../db/tables/sensor-figures.ts'

type Names = keyof typeof inspectRequests | keyof typeof sensorRequests

export const inspectHandlers = (core: Core, inspections: Inspections): Pick<Handlers, Names> => ({
  checkFlat: (ask) => inspections.checkFlat(ask),
  checkDark: (ask) => inspections.checkDark(ask),
  proof: (ask) => inspections.proof(ask),
  sensorFigures: () => ({ sensors: sensorsKept(core.db).map(({ id: _, ...figures }) => figures) }),
  measureSensors: () => inspections.measureSensors(),
  stopMeasuring: () => inspections.stopMeasuring(),
  findFloor: (ask) => inspections.findFloor(ask),
  checksOf: ({ master }) => ({ checks: inspections.checksOf(master) }),
})
