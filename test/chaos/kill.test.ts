import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { expect, test } from 'vitest'
import { killMove, killRestore } from './kill-data.ts'
import { killImport, killIngest } from './kill.ts'

// Runs the built program, because a kill must hit a process; `npm test` builds it first.
const built = existsSync(resolve(import.meta.dirname, '../../out/main/cli.js'))

test.runIf(built)(
  'kills in the middle of logging lose no frame, log none twice and damage nothing',
  { timeout: 120_000 },
  async () => {
    expect((await killIngest(10, 20_261_120)).wrong).toEqual([])
  },
)

test.runIf(built)(
  'kills in the middle of an import lose no master and leave no half file under its name',
  { timeout: 120_000 },
  async () => {
    expect((await killImport(5, 20_261_121)).wrong).toEqual([])
  },
)

test.runIf(built)(
  'kills in the middle of a restore or a move lose no log and no master',
  { timeout: 120_000 },
  async () => {
    expect((await killRestore(2, 20_261_122)).wrong).toEqual([])
    expect((await killMove(2, 20_261_123)).wrong).toEqual([])
  },
)
