import type { Verb } from '../verb.ts'
import { demo } from './demo.ts'
import { log } from './log.ts'
import { sensor } from './sensor.ts'
import { serve } from './serve.ts'

/** Every verb of the command line, in the order in which `--help` lists them. */
export const verbs: Verb[] = [log, demo, sensor, serve]
