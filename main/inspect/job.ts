import type { DarkCheck } from './check-dark.ts'
import type { DarkLevels } from './dark-signal.ts'
import type { FlatCheck, FlatLimits } from './check-flat.ts'
import type { PlaneFile } from './plane-file.ts'
import type { Proof } from './proof.ts'
import type { SensorReport } from './sensor-pairs.ts'
import type { FloorFrame } from './floor.ts'

/** What the thread of checks and proofs is asked; see inspector.ts. */
export type InspectAsk = FlatAsk | DarkAsk | ProofAsk | SensorAsk | LevelsAsk | SignalAsk
export type InspectAnswer = FlatInspected | DarkInspected | ProofInspected | SensorReport | FloorFrame[] | DarkLevels

/** A flat master, with the dark flat that still has to come off it (null where it has). */
export interface FlatFile extends PlaneFile {
  less: PlaneFile | null
}

export interface FlatAsk {
  task: 'flat'
  fresh: PlaneFile
  darkFlat: PlaneFile
  master: FlatFile
  cfa: boolean
  limits: FlatLimits
}
export interface FlatInspected {
  check: Omit<FlatCheck, 'map'>
  /** PNG of the map. */
  map: Uint8Array
}

export interface DarkAsk {
  task: 'dark'
  fresh: PlaneFile
  master: PlaneFile
  cfa: boolean
}
export interface DarkInspected {
  check: Omit<DarkCheck, 'map'>
  /** PNG of the map. */
  map: Uint8Array
}

export interface ProofAsk {
  task: 'proof'
  light: PlaneFile
  dark: PlaneFile
  flat: FlatFile
  /** Letters of the colour filter array, null for mono. */
  cfa: string | null
  /** Null: no file is asked for. */
  file: { out: string; program: string; madeAt: string; history: string[] } | null
}
export interface ProofInspected extends Omit<Proof, 'calibrated'> {
  before: Uint8Array
  after: Uint8Array
}

export interface SensorAsk {
  task: 'sensor'
  flats: string[]
  darks: string[]
}

/** What a dark master tells of the dark signal. */
export interface SignalAsk {
  task: 'signal'
  master: PlaneFile
  cfa: boolean
}

/** Levels above the pedestal, for the floor: median of each frame less `pedestalAdu`. */
export interface LevelsAsk {
  task: 'levels'
  paths: string[]
  pedestalAdu: number
}
