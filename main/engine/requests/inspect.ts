import type { Handlers } from '../../contract/index.ts'
import type { Inspections } from '../inspect/inspections.ts'

type Names = 'checkFlat' | 'checkDark' | 'proof' | 'checksOf'

export const inspectHandlers = (inspections: Inspections): Pick<Handlers, Names> => ({
  checkFlat: (ask) => inspections.checkFlat(ask),
  checkDark: (ask) => inspections.checkDark(ask),
  proof: (ask) => inspections.proof(ask),
  checksOf: ({ master }) => ({ checks: inspections.checksOf(master) }),
})
