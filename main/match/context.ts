import type {
  Difference,
  Frame,
  Master,
  Settings,
  SensorRules,
  Tolerances,
  TrainChange,
  Verdicts,
} from '../contract/index.ts'

/**
 * Raw calibration frames of one key that no ready master has taken in yet, from any night.
 * Made by `summariseRaw`. `sensorTempC` is the median of the group.
 */
export interface RawGroup extends Settings {
  kind: 'dark' | 'darkFlat' | 'flat' | 'bias'
  /** How many frames of it there are. */
  count: number
  /** UTC start of its first and last frame; null where no frame of it has a date. */
  firstAt: string | null
  lastAt: string | null
}

/** One fresh frame held against an old master, and it held. `at`: when that check frame was taken (UTC). */
export interface Proof {
  master: number
  at: string
}

/** What one difference of a near match would cost; see `inspect/cost.ts`. `text`: what that means for a stack, if it can be told. */
export interface Price {
  costE?: Difference['costE']
  costAdu: Difference['costAdu']
  text: string | null
}

/**
 * Prices one difference, in temperature or exposure, between a frame and a dark (or dark flat): null where nothing is known.
 * @param tempC the temperature that stands for the frame
 * @param wants what the frame is: the stack of its like is what the price is held against
 */
export type PriceDifference = (
  frame: Settings,
  master: Master,
  field: 'exposureS' | 'sensorTempC' | 'setTempC',
  tempC: number | null,
  wants: 'light' | 'flat',
) => Price | null

/** Everything besides the masters that a verdict depends on. Same context, same masters, same frame: same verdict. */
export interface MatchContext {
  /** The clock (UTC, ISO 8601): only ages in the texts depend on it. */
  now: string
  tolerances: Tolerances
  /** Rules of the sensor for a camera, as INSTRUME has it; see `rules/sensor-rules.ts`. */
  sensorRules: (camera: string | null) => SensorRules
  /** Every train change ever logged, taken back ones included; in any order. */
  changes: TrainChange[]
  /** Raw calibration frames that wait to be built. */
  raw?: RawGroup[]
  /** Bodies, or cameras as INSTRUME has them, that the user marked as gone. */
  gone?: string[]
  /** Cameras of which more than one body is in use (`findTwins`): there a header without a body proves nothing. */
  twins?: string[]
  /** Check frames that held, beside each master's own `provenAt`. */
  proofs?: Proof[]
  /** Prices near matches; left out, they carry no costs. The same arguments must give the same price. */
  price?: PriceDifference
}

/** The part of a frame that its verdicts depend on; a whole `Frame` is one. */
export type Judged = Settings &
  Pick<Frame, 'kind' | 'night' | 'startedAt' | 'aside' | 'state' | 'combined' | 'integrated'>

/**
 * The verdicts of one frame: a light's dark and flat, a flat's dark flat, nothing for other kinds and for frames that need
 * no calibration (aside, broken, gone, masters).
 * @param groupTempC median measured temperature of the run that it belongs to, °C; its own where left out
 */
export type Judge = (frame: Judged, groupTempC?: number | null) => Verdicts
