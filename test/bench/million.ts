/**
 * Opening a database with 1 000 000 frames until Tonight is answered. Bar 1.5 s, stretch 0.7 s (the window's part not counted).
 * The database is made once (about a minute, 1 GB in the system's folder for temporary files) and kept for the next run.
 */
import { randomBytes } from 'node:crypto'
import { existsSync, mkdirSync, renameSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { spawnSync } from 'node:child_process'
import { immediately, type Writable } from '../../db/handle.ts'
import { openDatabase } from '../../db/open.ts'
import { putCards } from '../../db/tables/cards.ts'
import { putFile } from '../../db/tables/files.ts'
import { insertFrame } from '../../db/tables/frames.ts'
import { newestVersion } from '../../db/migrate.ts'
import { openEngine } from '../../main/engine/open.ts'
import type { FrameFacts } from '../../main/frame/facts.ts'
import { rows } from './million-night.ts'

const NIGHTS = 1000
const dataDir = process.argv[3] ?? join(tmpdir(), `nightshelf-bench-million-${newestVersion()}`)

/** A night of 1 000 frames through the program's own statements, then 999 copies of it a day apart by SQL. */
function make(): void {
  const unfinished = `${dataDir}.unfinished`
  rmSync(unfinished, { recursive: true, force: true })
  mkdirSync(unfinished, { recursive: true })
  const db = openDatabase(join(unfinished, 'nightshelf.db'))
  db.pragma('synchronous = OFF')
  immediately(db, () => rows('2024-01-01').forEach((facts, i) => add(db, facts, i)))
  const names = (db.pragma('table_info(frames)') as { name: string }[]).map((column) => column.name)
  const moved: Record<string, string> = {
    id: 'id + :n * 1000',
    fingerprint: 'randomblob(32)',
    path: "replace(path, '2024-01-01', date('2024-01-01', '+' || :n || ' days'))",
    night: "date(night, '+' || :n || ' days')",
    started_at: "strftime('%Y-%m-%dT%H:%M:%fZ', started_at, '+' || :n || ' days')",
  }
  const quoted = names.map((name) => `"${name}"`).join(', ')
  const frames = db.prepare(
    `INSERT INTO frames (${quoted}) SELECT ${names.map((name) => moved[name] ?? `"${name}"`).join(', ')} FROM frames WHERE id <= 1000`,
  )
  const files = db.prepare(
    `INSERT INTO files SELECT ${moved.path}, frame_id + :n * 1000, size, modified_ms, changed_ms, inode + :n * 1000, seen_at
       FROM files WHERE frame_id <= 1000`,
  )
  const cards = db.prepare(
    'INSERT INTO cards SELECT frame_id + :n * 1000, pattern_id, delta FROM cards WHERE frame_id <= 1000',
  )
  for (let from = 1; from < NIGHTS; from += 50)
    immediately(db, () => {
      for (let n = from; n < Math.min(from + 50, NIGHTS); n++)
        for (const copy of [frames, files, cards]) copy.run({ n })
    })
  db.pragma('wal_checkpoint(TRUNCATE)')
  db.close()
  renameSync(unfinished, dataDir)
}

function add(db: Writable, facts: FrameFacts, i: number): void {
  const at = '2024-01-02T00:00:00.000Z'
  const id = insertFrame(db, { facts, fingerprint: randomBytes(32), size: 23_400_000, problem: null }, at)
  const header = Buffer.alloc(5760, ' ')
  header.write(`SIMPLE  =                    T`)
  header.write(String(i * 1.37), 2000)
  putCards(db, id, header)
  putFile(db, { path: facts.path, frameId: id, size: 23_400_000, modifiedMs: i, changedMs: i, inode: i }, at)
}

/** In a fresh process each time: the database is opened, and Tonight is asked. */
async function measure(): Promise<void> {
  const from = performance.now()
  const before = process.cpuUsage()
  const engine = await openEngine({ dataDir, zone: 'UTC' })
  const opened = performance.now()
  const { runs, night } = await engine.ask('tonight', {})
  const answered = performance.now()
  const { user, system } = process.cpuUsage(before)
  const { nights } = await engine.ask('nights', {})
  const listed = performance.now()
  await engine.close()
  const times = [opened - from, answered - opened, listed - answered].map((ms) => ms.toFixed(0))
  console.log(
    JSON.stringify({
      openMs: +times[0],
      tonightMs: +times[1],
      nightsMs: +times[2],
      cpuMs: Math.round((user + system) / 1000),
      runs: runs.length,
      night,
      nights: nights.length,
    }),
  )
}

if (process.argv[2] === 'measure') await measure()
else {
  if (!existsSync(dataDir)) make()
  const results = Array.from({ length: 5 }, () => {
    const run = spawnSync(process.execPath, [...process.execArgv, import.meta.filename, 'measure', dataDir], {
      encoding: 'utf8',
    })
    if (run.status !== 0) throw new Error(run.stderr)
    return JSON.parse(run.stdout.trim().split('\n').at(-1)!) as {
      openMs: number
      tonightMs: number
      nightsMs: number
      cpuMs: number
      runs: number
    }
  })
  const median = (name: 'openMs' | 'tonightMs' | 'nightsMs' | 'cpuMs') =>
    results.map((result) => result[name]).sort((a, b) => a - b)[results.length >> 1]
  const sum = median('openMs') + median('tonightMs')
  console.log(
    `1 000 000 frames: opened in ${median('openMs')} ms, Tonight (${results[0].runs} runs) in ${median('tonightMs')} ms, together ${sum} ms (bar 1500, stretch 700) and ${median('cpuMs')} ms of processor time; the list of ${NIGHTS} nights in ${median('nightsMs')} ms`,
  )
}
