import { Refusal, type Handlers } from '../../contract/index.ts'
import { masterById } from '../../../db/tables/masters.ts'
import { sourcesOfMaster } from '../../../db/tables/raw-frames.ts'
import type { Builder } from '../builds/builder.ts'
import { rebuild } from '../builds/rebuild.ts'
import type { Core } from '../core.ts'
import { keepLook, lookWanted } from '../library/look.ts'
import { FileProblem } from '../../measure/crew.ts'

type Names = 'builds' | 'startBuild' | 'stopBuild' | 'masterDetail' | 'rebuildMaster'

export const buildHandlers = (core: Core, builder: Builder): Pick<Handlers, Names> => ({
  builds: async (ask) => ({ groups: await builder.groups(ask), running: builder.running }),
  startBuild: async ({ wait, ...ask }) => {
    const { job, done } = builder.start(ask)
    return { job, outcome: wait ? await done : null }
  },
  stopBuild: async () => ({ stopped: await builder.stop() }),
  rebuildMaster: ({ id }) => rebuild(core, builder.integrator, id),
  masterDetail: async ({ id }) => {
    const master = masterById(core.db, id, core.clock.now())
    if (!master) throw new Refusal(`There is no master ${id} in the library.`)
    try {
      const { looked, ...detail } = await builder.integrator.detail(master.path, lookWanted(core, master))
      if (looked && keepLook(core, master, looked)) core.changed('library')
      const sources = sourcesOfMaster(core.db, id)
      return { ...detail, sources: sources.map((row) => ({ ...row, sha256: row.sha256?.toString('hex') ?? null })) }
    } catch (error) {
      throw error instanceof FileProblem ? new Refusal(error.message) : error
    }
  },
})
