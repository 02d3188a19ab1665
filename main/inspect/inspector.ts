import { createCrew } from '../measure/crew.ts'
import { threadScript } from '../measure/thread-script.ts'
import type { DarkLevels } from './dark-signal.ts'
import type { FloorFrame } from './floor.ts'
import type {
  DarkAsk,
  DarkInspected,
  FlatAsk,
  FlatInspected,
  InspectAnswer,
  InspectAsk,
  LevelsAsk,
  ProofAsk,
  ProofInspected,
  SensorAsk,
  SignalAsk,
} from './job.ts'
import type { SensorReport } from './sensor-pairs.ts'

/**
 * Checks and proofs in a thread of their own, one after another: each holds up to four whole frames in memory.
 * Rejects with a `FileProblem` that names the file, a `Refusal` for frames that do not go together, or the signal's reason.
 */
export interface Inspector {
  flat(ask: Omit<FlatAsk, 'task'>, signal?: AbortSignal): Promise<FlatInspected>
  dark(ask: Omit<DarkAsk, 'task'>, signal?: AbortSignal): Promise<DarkInspected>
  proof(ask: Omit<ProofAsk, 'task'>, signal?: AbortSignal): Promise<ProofInspected>
  sensor(ask: Omit<SensorAsk, 'task'>, signal?: AbortSignal): Promise<SensorReport>
  signal(ask: Omit<SignalAsk, 'task'>, signal?: AbortSignal): Promise<DarkLevels>
  levels(ask: Omit<LevelsAsk, 'task'>, signal?: AbortSignal): Promise<FloorFrame[]>
  close(): Promise<void>
}

/** @param options `script`: the thread's file where it is not the one beside this (a benchmark of the built program) */
export function createInspector(options: { script?: URL } = {}): Inspector {
  const crew = createCrew<InspectAsk, InspectAnswer>(options.script ?? threadScript(import.meta.url, 'inspect'), 1)
  return {
    flat: (ask, signal) => crew.ask({ task: 'flat', ...ask }, signal) as Promise<FlatInspected>,
    dark: (ask, signal) => crew.ask({ task: 'dark', ...ask }, signal) as Promise<DarkInspected>,
    proof: (ask, signal) => crew.ask({ task: 'proof', ...ask }, signal) as Promise<ProofInspected>,
    sensor: (ask, signal) => crew.ask({ task: 'sensor', ...ask }, signal) as Promise<SensorReport>,
    signal: (ask, signal) => crew.ask({ task: 'signal', ...ask }, signal) as Promise<DarkLevels>,
    levels: (ask, signal) => crew.ask({ task: 'levels', ...ask }, signal) as Promise<FloorFrame[]>,
    close: () => crew.close(),
  }
}
