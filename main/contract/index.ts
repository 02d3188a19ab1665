import type { z } from 'zod'
import type { EngineEvent } from './events.ts'
import { nightRequests } from './requests/night.ts'
import { libraryRequests } from './requests/library.ts'
import { folderRequests } from './requests/folders.ts'
import { buildRequests } from './requests/builds.ts'
import { dataRequests } from './requests/data.ts'
import { flatRequests } from './requests/flats.ts'
import { desktopRequests } from './requests/desktop.ts'
import { hostRequests } from './requests/host.ts'
import { imageRequests } from './requests/image.ts'
import { inspectRequests, sensorRequests } from './requests/inspect.ts'
import { rigRequests } from './requests/rigs.ts'
import { settingsRequests } from './requests/settings.ts'
import { undoRequests } from './requests/undo.ts'

export * from './words.ts'
export * from './frame.ts'
export * from './master.ts'
export * from './night.ts'
export * from './rules.ts'
export * from './events.ts'
export * from './files.ts'
export * from './refusal.ts'
export * from './wire.ts'
export { desktopRequests } from './requests/desktop.ts'
export { hostRequests } from './requests/host.ts'
export type { RequestDefinition } from './request.ts'
export type { CoverageNeed, MasterAnswers, ShelfPage } from './requests/library.ts'
export { CLEARABLE, type BackupTold, type Clearable } from './requests/data.ts'
export type { BuildGroup, BuildOutcome } from './requests/builds.ts'
export type { FlatNow, FlatPoint } from './requests/flats.ts'
export { sensorFiguresSchema } from './requests/inspect.ts'
export type {
  CheckFinding,
  DarkCheckAnswer,
  FlatCheckAnswer,
  ProofAnswer,
  SensorFiguresAnswer,
} from './requests/inspect.ts'
export type { Camera, LoggedChange, Rig, RigSpanTold } from './requests/rigs.ts'
export type { Layout } from './requests/image.ts'
export type { ProgramQuestion, SettingsAnswer } from './requests/settings.ts'
export type { UndoStep } from './requests/undo.ts'

/** Every request that crosses the border between window and engine. To add one: an entry here, a handler in the engine. */
export const requests = {
  ...nightRequests,
  ...imageRequests,
  ...libraryRequests,
  ...folderRequests,
  ...buildRequests,
  ...rigRequests,
  ...settingsRequests,
  ...undoRequests,
  ...inspectRequests,
  ...flatRequests,
  ...sensorRequests,
  ...dataRequests,
  ...desktopRequests,
  ...hostRequests,
}

export type Requests = typeof requests
export type RequestName = keyof Requests
/** What a caller passes (defaults may be left out). */
export type Ask<R extends RequestName> = z.input<Requests[R]['input']>
/** What a handler receives: the input as validated, defaults filled in. */
export type Asked<R extends RequestName> = z.output<Requests[R]['input']>
export type Answer<R extends RequestName> = z.output<Requests[R]['output']>
/** One handler per request: the engine must have them all, the compiler says which is lacking. */
export type Handlers = { [R in RequestName]: (input: Asked<R>) => Promise<Answer<R>> | Answer<R> }

/** On the wire, in both hosts: one message a request, one a reply, and events. */
export type ToEngine = { id: number; request: RequestName; input: unknown }
export type FromEngine =
  | { id: number; answer: unknown }
  /** One sentence for a person: becomes a `Refusal` again. */
  | { id: number; refused: string }
  /** A fault of ours: becomes an ordinary Error again. */
  | { id: number; failed: string }
  | { event: EngineEvent }

/** How a host, the command line or the window speaks to the engine, whatever lies between. */
export interface EngineLink {
  /** Rejects with a `Refusal` (one sentence for a person) or, for a fault of ours, another Error. */
  ask<R extends RequestName>(request: R, input: Ask<R>): Promise<Answer<R>>
  /** Calls back on every event until the returned function is called. */
  listen(listener: (event: EngineEvent) => void): () => void
  close(): Promise<void>
}
