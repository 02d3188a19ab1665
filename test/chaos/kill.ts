import BetterSqlite3 from 'better-sqlite3'
import { spawn } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { encodeFits } from '../../main/fits/write.ts'

export const program = resolve(import.meta.dirname, '../../out/main/cli.js')

export interface KillReport {
  kills: number
  /** Ran to their end before the kill came. */
  finished: number
  wrong: string[]
}

/** A seeded source of chance (mulberry32), so that a run that went wrong can be run again. */
export function dice(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = Math.imul(state ^ (state >>> 15), 1 | state)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}

export function fits(seed: number, kind: string, more: { keyword: string; value: string | number }[] = []): Buffer {
  const roll = dice(seed)
  const image = Uint16Array.from({ length: 64 * 48 }, () => 1000 + Math.floor(roll() * 4000))
  const cards = [
    { keyword: 'IMAGETYP', value: kind },
    { keyword: 'INSTRUME', value: 'Testcam 26' },
    { keyword: 'GAIN', value: 100 },
    { keyword: 'OFFSET', value: 30 },
    { keyword: 'CCD-TEMP', value: -10 },
    { keyword: 'EXPTIME', value: 300 },
    { keyword: 'DATE-OBS', value: new Date(Date.UTC(2026, 10, 20, 18) + seed * 300_000).toISOString().slice(0, 19) },
    ...more,
  ]
  return encodeFits({ width: 64, height: 48, bitpix: 16, unsigned: true, cards, image, checksum: false })
}

/** Starts the program and kills it after `afterMs`; resolves with whether it came to its end before. */
export function runAndKill(args: string[], afterMs: number): Promise<boolean> {
  const child = spawn(process.execPath, [program, ...args], { stdio: 'ignore' })
  return new Promise((done) => {
    const timer = setTimeout(() => child.kill('SIGKILL'), afterMs)
    child.on('exit', (code) => {
      clearTimeout(timer)
      done(code !== null)
    })
  })
}

export async function timeOf(args: string[]): Promise<number> {
  const from = performance.now()
  await runAndKill(args, 120_000)
  return performance.now() - from
}

function withDatabase<T>(data: string, look: (db: BetterSqlite3.Database) => T): T | null {
  const file = join(data, 'nightshelf.db')
  if (!existsSync(file)) return null
  const db = new BetterSqlite3(file)
  try {
    return look(db)
  } finally {
    db.close()
  }
}

/** What is wrong with a database after a kill: damage, or a row that exists twice. */
export function flaws(data: string): string[] {
  return (
    withDatabase(data, (db) => {
      const found: string[] = []
      const verdict = db.pragma('integrity_check', { simple: true })
      if (verdict !== 'ok') found.push(`integrity_check: ${String(verdict)}`)
      if ((db.pragma('foreign_key_check') as unknown[]).length) found.push('a row points to nothing')
      // A kill before the first migration leaves an empty file.
      if (db.pragma('user_version', { simple: true }) === 0) return found
      const twice = (table: string, column: string) =>
        db.prepare(`SELECT count(*) FROM (SELECT 1 FROM ${table} GROUP BY ${column} HAVING count(*) > 1)`).pluck().get()
      if (twice('frames', 'path') !== 0) found.push('a frame is logged twice')
      if (twice('masters', 'sha256') !== 0) found.push('a master is there twice')
      const without = db
        .prepare(
          'SELECT count(*) FROM frames WHERE id NOT IN (SELECT frame_id FROM cards) OR id NOT IN (SELECT frame_id FROM files)',
        )
        .pluck()
        .get()
      if (without !== 0) found.push('a frame has no cards or no file')
      return found
    }) ?? []
  )
}

export const count = (data: string, table: 'frames' | 'masters') =>
  withDatabase(data, (db) => db.prepare(`SELECT count(*) FROM ${table}`).pluck().get() as number) ?? 0

/** Kills `log` at random moments until `kills` are done; each data folder is brought to its end and counted. */
export async function killIngest(kills: number, seed: number, frames = 400): Promise<KillReport> {
  const report: KillReport = { kills: 0, finished: 0, wrong: [] }
  const roll = dice(seed)
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-kill-'))
  const capture = join(base, 'capture')
  mkdirSync(capture)
  for (let i = 0; i < frames; i++)
    writeFileSync(join(capture, `${String(i).padStart(4, '0')}.fits`), fits(i, 'Light Frame'))
  try {
    const wholeMs = await timeOf(['--data', join(base, 'timing'), 'log', capture])
    for (let n = 0; report.kills < kills; n++) {
      const data = join(base, `data-${n}`)
      // Several kills on one database: a run after a kill meets what the kill left.
      for (let k = 0; k < 5 && report.kills < kills; k++) {
        if (await runAndKill(['--data', data, 'log', capture], roll() * wholeMs * 1.1)) report.finished++
        report.kills++
        for (const flaw of flaws(data)) report.wrong.push(`ingest, data ${n}, kill ${k}: ${flaw}`)
      }
      await runAndKill(['--data', data, 'log', capture], 120_000)
      const logged = count(data, 'frames')
      if (logged !== frames) report.wrong.push(`ingest, data ${n}: ${logged} frames of ${frames}`)
      for (const flaw of flaws(data)) report.wrong.push(`ingest, data ${n}, at the end: ${flaw}`)
      rmSync(data, { recursive: true, force: true })
    }
  } finally {
    rmSync(base, { recursive: true, force: true })
  }
  return report
}

/** Kills `library add --copy` at random moments: every master once, every copy whole, no half file under a master's name. */
export async function killImport(kills: number, seed: number, masters = 30): Promise<KillReport> {
  const report: KillReport = { kills: 0, finished: 0, wrong: [] }
  const roll = dice(seed)
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-kill-'))
  const made = join(base, 'made')
  mkdirSync(made)
  const told = [
    { keyword: 'NCOMBINE', value: 20 },
    { keyword: 'BUNIT', value: 'ADU' },
    { keyword: 'SUBTRACT', value: 'none' },
  ]
  const paths = Array.from({ length: masters }, (_, i) => join(made, `dark-${i}.fits`))
  paths.forEach((path, i) => writeFileSync(path, fits(10_000 + i, 'Dark', told)))
  const hashOf = (path: string) => createHash('sha256').update(readFileSync(path)).digest('hex')
  const known = new Set(paths.map(hashOf))
  const args = (data: string) => ['--data', data, 'library', 'add', '--copy', ...paths]
  try {
    const wholeMs = await timeOf(args(join(base, 'timing')))
    for (let n = 0; report.kills < kills; n++) {
      const data = join(base, `data-${n}`)
      for (let k = 0; k < 5 && report.kills < kills; k++) {
        if (await runAndKill(args(data), roll() * wholeMs * 1.1)) report.finished++
        report.kills++
        for (const flaw of [...flaws(data), ...halfFiles(data, known, hashOf)])
          report.wrong.push(`import, data ${n}, kill ${k}: ${flaw}`)
      }
      await runAndKill(args(data), 120_000)
      const added = count(data, 'masters')
      if (added !== masters) report.wrong.push(`import, data ${n}: ${added} masters of ${masters}`)
      const files = readdirSync(join(data, 'masters'))
      if (files.length !== masters) report.wrong.push(`import, data ${n}: ${files.length} files for ${masters} masters`)
      for (const flaw of halfFiles(data, known, hashOf)) report.wrong.push(`import, data ${n}, at the end: ${flaw}`)
      rmSync(data, { recursive: true, force: true })
    }
  } finally {
    rmSync(base, { recursive: true, force: true })
  }
  return report
}

/** Files under a master's name that are not whole, and masters whose file is not there. */
function halfFiles(data: string, known: Set<string>, hashOf: (path: string) => string): string[] {
  const folder = join(data, 'masters')
  const half = existsSync(folder)
    ? readdirSync(folder).filter((name) => !name.endsWith('.unfinished') && !known.has(hashOf(join(folder, name))))
    : []
  const lost =
    withDatabase(data, (db) =>
      db.pragma('user_version', { simple: true }) === 0
        ? []
        : (db.prepare('SELECT path, sha256 FROM masters').all() as { path: string; sha256: string }[]).filter(
            ({ path, sha256 }) => !existsSync(path) || hashOf(path) !== sha256,
          ),
    ) ?? []
  return [...half.map((name) => `${name} is half written`), ...lost.map(({ path }) => `${path} is lost`)]
}

/** `npm run chaos -- kill [--runs N] [--seed S]`: three quarters of the kills in ingest, the rest in import. */
export async function main(args: string[]): Promise<number> {
  const option = (name: string, usual: number) => {
    const at = args.indexOf(`--${name}`)
    return at < 0 ? usual : Number(args[at + 1])
  }
  const runs = option('runs', 1000)
  const seed = option('seed', 1)
  const began = performance.now()
  const imports = Math.round(runs / 4)
  const reports = [await killIngest(runs - imports, seed), await killImport(imports, seed + 1)]
  const kills = reports.reduce((sum, report) => sum + report.kills, 0)
  const finished = reports.reduce((sum, report) => sum + report.finished, 0)
  const wrong = reports.flatMap((report) => report.wrong)
  for (const line of wrong) console.log(line)
  console.log(
    `kill: ${kills} kills (${finished} came after the end) in ${Math.round((performance.now() - began) / 1000)} s, seed ${seed}: ${wrong.length ? `${wrong.length} went wrong` : 'none lost, none twice, none half written'}`,
  )
  return wrong.length ? 1 : 0
}
