import { z } from 'zod'
import { figuresSchema, frameSchema } from './frame.ts'
import { verdictsSchema } from './night.ts'

/** What the engine tells without being asked. `changed` names what to ask again; `landed` carries the answer itself. */
export const eventSchema = z.discriminatedUnion('event', [
  z.object({
    event: z.literal('landed'),
    frame: frameSchema,
    verdicts: verdictsSchema,
    /** How many lights (or frames of its kind) of this night came before it on this rig, plus one. */
    number: z.number(),
  }),
  /** The pixels of a logged frame were measured: told at once, so that whoever stands at a dimmer sees it between two frames. */
  z.object({ event: z.literal('figures'), frame: z.number(), figures: figuresSchema }),
  z.object({
    event: z.literal('changed'),
    what: z.array(z.enum(['night', 'library', 'folders', 'settings', 'builds'])),
  }),
  z.object({
    event: z.literal('progress'),
    job: z.string(),
    title: z.string(),
    done: z.number(),
    total: z.number(),
    /** Seconds left at the pace so far; null until known. */
    leftS: z.number().nullable(),
    state: z.enum(['running', 'done', 'stopped', 'failed']),
    text: z.string().nullable(),
  }),
  /** Sent by the host, not the engine: the engine process went away or came back. */
  z.object({ event: z.literal('engine'), state: z.enum(['starting', 'ready', 'lost']) }),
])
export type EngineEvent = z.infer<typeof eventSchema>
export type EventOf<E extends EngineEvent['event']> = Extract<EngineEvent, { event: E }>
