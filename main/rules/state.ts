import type { Frame, Master, Notice, Run, Shortfall } from '../contract/index.ts'
import type { MatchContext } from '../match/context.ts'

/** What a user told of a rig, as far as rules need it. */
export interface RigFacts {
  name: string
  /** True where filters are changed by hand (a drawer): leaving one means touching the rig. */
  filterByHand: boolean
}

/** A watched folder now. `lostSince`: since when it cannot be reached (UTC), null while it can. */
export interface WatchState {
  path: string
  rig: string | null
  lostSince: string | null
}

/** A path in a watched folder that could not be logged: no FITS file, unreadable, a pipe, a folder that may not be looked into. */
export interface PassedOverPath {
  path: string
  rig: string | null
  /** What all of one cause have in common. */
  cause: string
  /** One sentence that says what to do. */
  reason: string
}

/**
 * Channel levels of flats that were accepted in earlier nights: what a filter's balance normally is. In any unit, `pedestal` (the
 * black level that is still in them, 0 where it was taken off or is not known) in the same.
 */
export interface AcceptedFlat {
  rig: string | null
  camera: string | null
  body?: string | null
  train?: string | null
  filter: string | null
  channels: { R: number; G: number; B: number }
  pedestal: number
}

/** What the engine remembers of a notice between two assessments. */
export type KnownNotice = Pick<Notice, 'id' | 'openedAt' | 'acknowledged' | 'severity'>

/** The state of one night: everything that runs, notices and shortfall are made from. */
export interface NightState {
  /** Date on which the night began. */
  night: string
  /** The clock (UTC). A past night is judged at its own end, whatever this says. */
  now: string
  /** Local noon that ends the night (UTC); by the site's longitude, else by UTC, where left out. */
  endsAt?: string
  /** Every logged frame of the night, all kinds and states, in any order. */
  frames: Frame[]
  /** Darks of the nights around that may belong to a run of this one's, over noon. */
  overNoon?: Frame[]
  masters: readonly Master[]
  /** As for the judge; its `raw` should hold the unbuilt calibration frames of all nights, this one's included. */
  match: MatchContext
  /** IANA zone for the times of day in texts; without it they are said in UTC. */
  zone?: string
  site?: { name: string | null; latDeg: number; longDeg: number } | null
  rigs?: RigFacts[]
  /** Rigs over which "I'm taking it apart" has been opened but not confirmed: the last look. */
  closing?: string[]
  watches?: WatchState[]
  passedOver?: PassedOverPath[]
  /** Hours of room on the capture disk at tonight's pace; null where unknown. */
  roomH?: number | null
  acceptedFlats?: AcceptedFlat[]
  /** Notices that were open after the last assessment of this night. */
  known?: KnownNotice[]
}

export interface Assessment {
  runs: Run[]
  notices: Notice[]
  /** Most urgent first; a flat's dark flats right after it. */
  shortfall: Shortfall[]
}
