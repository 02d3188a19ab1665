import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'

/** Something that was done to the library or a rig and can be taken back, for 30 days. */
export const undoStepSchema = z.object({
  id: z.number(),
  at: z.string(),
  /** What was done, as a sentence: "Master 12 was retired." */
  text: z.string(),
  undoneAt: z.string().nullable(),
  /** What it changed. */
  of: z.enum(['library', 'rig', 'frame']).optional(),
})
export type UndoStep = z.infer<typeof undoStepSchema>

export const undoRequests = {
  /** Newest first. */
  undoSteps: asks(nothing, z.object({ steps: z.array(undoStepSchema) })),
  /** Takes a step back: the one named, or the newest that was not taken back yet. */
  undo: does(z.object({ id: z.number().int().optional() }), z.object({ step: undoStepSchema })),
}
