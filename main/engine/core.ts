import type { EngineEvent } from '../contract/index.ts'
import type { Writable } from '../../db/handle.ts'
import type { Clock } from './clock.ts'

/** What every part of the engine works with. */
export interface Core {
  readonly db: Writable
  readonly dataDir: string
  readonly clock: Clock
  /** IANA name of the zone in which a night is told where neither header nor site does. */
  readonly zone: string
  /** Tells every listener. */
  tell(event: EngineEvent): void
  /** Aborted when the engine closes. */
  readonly closing: AbortSignal
  /** True for a path below a watched folder whose disk is away at the moment. */
  isOutOfReach(path: string): boolean
}
