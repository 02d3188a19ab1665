import { Refusal, type Handlers, type Master } from '../../contract/index.ts'
import { immediately } from '../../../db/handle.ts'
import { masterById, restoreMaster, retireMaster } from '../../../db/tables/masters.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { addMasters } from '../library/add-masters.ts'
import { shelfPage } from '../library/shelf-page.ts'
import { tellLight } from '../library/tell-light.ts'
import { UsageBook } from '../library/usage.ts'
import { verifyLibrary } from '../library/verify-library.ts'
import { remember } from '../undo.ts'

type Names =
  | 'library'
  | 'master'
  | 'shelf'
  | 'coverage'
  | 'masterNights'
  | 'addMasters'
  | 'retireMaster'
  | 'restoreMaster'
  | 'setMasterLight'
  | 'verifyLibrary'

export const libraryHandlers = (core: Core, usage = new UsageBook(core)): Pick<Handlers, Names> => ({
  library: () => ({ masters: [...core.shelf.masters] }),
  master: ({ id }) => ({ master: masterById(core.db, id, core.clock.now()) ?? null }),
  shelf: (ask) => shelfPage(core, ask),
  coverage: () => usage.coverage(),
  masterNights: ({ id }) => usage.nightsOf(id),
  addMasters: (input) => addMasters(core, input),
  setMasterLight: ({ id, source }) => tellLight(core, id, source),
  verifyLibrary: ({ ids }) => verifyLibrary(core, ids),
  retireMaster: ({ id }) => {
    const master = find(core, id)
    if (master.state === 'damaged')
      throw new Refusal(
        `Master ${id} is damaged and out of matching already: put a sound copy in its place and verify.`,
      )
    return {
      master: change(core, id, () => {
        if (!retireMaster(core.db, id, instant(core.clock))) return false
        remember(core, `Master ${id} was retired.`, { do: 'retire', master: id })
        return true
      }),
    }
  },
  restoreMaster: ({ id }) => {
    const master = find(core, id)
    if (master.state === 'damaged')
      throw new Refusal(`Master ${id} is damaged: put a sound copy in its place and verify the library first.`)
    return {
      master: change(core, id, () => {
        if (master.state !== 'retired' || !restoreMaster(core.db, id)) return false
        remember(core, `Master ${id} was restored.`, { do: 'restore', master: id })
        return true
      }),
    }
  },
})

function find(core: Core, id: number): Master {
  const master = masterById(core.db, id, core.clock.now())
  if (!master) throw new Refusal(`There is no master ${id} in the library.`)
  return master
}

function change(core: Core, id: number, work: () => boolean): Master {
  if (immediately(core.db, work)) core.changed('library', 'night')
  return find(core, id)
}
