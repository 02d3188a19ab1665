import type { Handlers } from '../../contract/index.ts'
import type { Core } from '../core.ts'
import { undo, undoSteps } from '../undo.ts'

export const undoHandlers = (core: Core): Pick<Handlers, 'undoSteps' | 'undo'> => ({
  undoSteps: () => ({ steps: undoSteps(core) }),
  undo: async ({ id }) => ({ step: await undo(core, id) }),
})
