import type { Verb } from '../verb.ts'
import { backup } from './backup.ts'
import { build } from './build.ts'
import { check } from './check.ts'
import { demo } from './demo.ts'
import { exportNight } from './export.ts'
import { flats } from './flats.ts'
import { library } from './library.ts'
import { log } from './log.ts'
import { measure } from './measure.ts'
import { move } from './move.ts'
import { notice } from './notice.ts'
import { proof } from './proof.ts'
import { restore } from './restore.ts'
import { rig } from './rig.ts'
import { rules } from './rules.ts'
import { sensor } from './sensor.ts'
import { serve } from './serve.ts'
import { status } from './status.ts'
import { train } from './train.ts'
import { undo } from './undo.ts'

/** Every verb of the command line, in the order in which `--help` lists them. */
export const verbs: Verb[] = [
  log,
  status,
  measure,
  library,
  build,
  check,
  proof,
  notice,
  rig,
  train,
  flats,
  undo,
  demo,
  sensor,
  rules,
  exportNight,
  backup,
  restore,
  move,
  serve,
]
