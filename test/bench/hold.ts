/**
 * How long one request holds the engine's thread, so that every other one waits: with 1 000 000 frames and 10 000 masters, a tenth
 * of them built from twenty logged frames each. Bar: no more than 100 ms. The database is made from that of the bench `million`.
 * usage: node test/bench/hold.ts [MASTERS=10000] [REQUEST…], after `npm run bench -- million`
 */
import { copyFileSync, existsSync, mkdirSync, renameSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { newestVersion } from '../../db/migrate.ts'
import { openDatabase } from '../../db/open.ts'
import { openEngine } from '../../main/engine/open.ts'
import { watchHeld } from './held.ts'
import { putMasters } from './shelf-data.ts'

const MASTERS = Number(process.argv[2] ?? 10_000)
const folder = (name: string) => join(tmpdir(), `nightshelf-bench-${name}-${newestVersion()}`)
const dataDir = folder(`hold-${MASTERS}`)

function make(): void {
  const unfinished = `${dataDir}.unfinished`
  rmSync(unfinished, { recursive: true, force: true })
  mkdirSync(unfinished, { recursive: true })
  const file = join(unfinished, 'nightshelf.db')
  copyFileSync(join(folder('million'), 'nightshelf.db'), file)
  const db = openDatabase(file)
  db.pragma('synchronous = OFF')
  putMasters(db, MASTERS)
  // Every tenth was built from twenty flats or darks of one of the nights.
  db.exec(`BEGIN;
    INSERT INTO master_sources (master_id, position, path, frame_id)
      SELECT masters.id, value, frames.path, frames.id FROM masters, json_each('[0,1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17,18,19]')
        JOIN frames ON frames.id = (masters.id / 10 % 1000) * 1000 + 601 + (masters.id / 10000 % 20) * 20 + value
       WHERE masters.id % 10 = 0;
    COMMIT`)
  db.pragma('wal_checkpoint(TRUNCATE)')
  db.close()
  renameSync(unfinished, dataDir)
}

async function watch(what: string, work: () => Promise<unknown>): Promise<void> {
  const watching = watchHeld()
  const cpu = process.cpuUsage()
  const from = performance.now()
  const answer = await work()
  const wall = performance.now() - from
  const { user, system } = process.cpuUsage(cpu)
  const { wallMs, ownMs } = await watching.stop()
  const ms = (value: number) => `${value.toFixed(0)} ms`.padStart(8)
  console.log(
    `  ${what.padEnd(30)} held ${ms(wallMs)} (own work ${ms(ownMs)}), took ${ms(wall)} (${ms((user + system) / 1000)}); ${((JSON.stringify(answer)?.length ?? 0) / 1e6).toFixed(1)} MB`,
  )
}

if (!existsSync(folder('million'))) console.log('hold: not run (npm run bench -- million makes its database first)')
else {
  if (!existsSync(dataDir)) make()
  console.log(`with 1 000 000 frames and ${MASTERS} masters (times of the processor in brackets)`)
  const engine = await openEngine({ dataDir, zone: 'UTC' })
  const requests: Record<string, () => Promise<unknown>> = {
    tonight: () => engine.ask('tonight', {}),
    'tonight again': () => engine.ask('tonight', {}),
    shelf: () => engine.ask('shelf', {}),
    nights: () => engine.ask('nights', {}),
    findNights: () => engine.ask('findNights', { target: 'field 1' }),
    coverage: () => engine.ask('coverage', {}),
    'coverage again': () => engine.ask('coverage', {}),
    masterNights: () => engine.ask('masterNights', { id: 1 }),
    builds: () => engine.ask('builds', {}),
    rigs: () => engine.ask('rigs', {}),
    cameras: () => engine.ask('cameras', {}),
    flatsNow: () => engine.ask('flatsNow', {}),
    suggestedChanges: () => engine.ask('suggestedChanges', {}),
    programQuestions: () => engine.ask('programQuestions', {}),
    library: () => engine.ask('library', {}),
    'retire a master, then tonight': async () => {
      await engine.ask('retireMaster', { id: 11 })
      await engine.ask('tonight', {})
      await engine.ask('restoreMaster', { id: 11 })
      return engine.ask('tonight', {})
    },
  }
  const chosen = process.argv.slice(3)
  for (const [name, ask] of Object.entries(requests))
    if (chosen.length === 0 || chosen.includes(name)) await watch(name, ask)
  await engine.close()
}
