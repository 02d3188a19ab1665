import type { Handlers } from '../../contract/index.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { listCameras, tellCamera } from '../rigs/cameras.ts'
import { decide, saidAside, saidBack, saidKind } from '../rigs/decide.ts'
import { listRigs } from '../rigs/list.ts'
import { confirmChange, dismissChange, suggestedChanges } from '../rigs/suggestions.ts'
import { removeRig, renameRig, tellRig } from '../rigs/tell-rig.ts'
import { logChange, takeApart, undoChange } from '../rigs/train-log.ts'
import type { rigRequests } from '../../contract/requests/rigs.ts'

export const rigHandlers = (core: Core): Pick<Handlers, keyof typeof rigRequests> => {
  const rigNamed = (name: string) => listRigs(core.db, instant(core.clock)).find((rig) => rig.name === name)!
  return {
    rigs: () => ({ rigs: listRigs(core.db, instant(core.clock)) }),
    setRig: async (asked) => {
      const { name, frames } = await tellRig(core, asked)
      return { rig: rigNamed(name), frames }
    },
    renameRig: ({ name, to }) => ({ rig: rigNamed(renameRig(core, name, to)) }),
    removeRig: async ({ name }) => ({ frames: await removeRig(core, name) }),
    trainChanges: () => ({ changes: trainChanges(core.db).reverse() }),
    logTrainChange: (asked) => ({ change: logChange(core, asked) }),
    undoTrainChange: ({ id }) => ({ change: undoChange(core, id) }),
    takeApart: (asked) => takeApart(core, asked),
    suggestedChanges: () => ({ suggestions: suggestedChanges(core) }),
    confirmChange: (asked) => ({ change: confirmChange(core, asked) }),
    dismissChange: ({ id }) => {
      dismissChange(core, id)
      return {}
    },
    setAside: ({ frames, why = null }) =>
      decide(core, frames, { aside: true, asideWhy: why }, saidAside(frames.length, why)),
    unsetAside: ({ frames }) => decide(core, frames, { aside: false, asideWhy: null }, saidBack(frames.length)),
    setKind: ({ frames, kind }) => decide(core, frames, { kind }, saidKind(frames.length, kind)),
    cameras: () => ({ cameras: listCameras(core.db) }),
    markCameraGone: ({ camera, body }) => ({
      camera: tellCamera(core, camera, body, { goneAt: instant(core.clock) }),
    }),
    cameraBack: ({ camera, body }) => ({ camera: tellCamera(core, camera, body, { goneAt: null }) }),
    setCameraClass: ({ camera, class: chosen }) => ({ camera: tellCamera(core, camera, null, { class: chosen }) }),
  }
}
