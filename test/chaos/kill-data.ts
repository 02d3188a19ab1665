import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { count, dice, fits, flaws, program, runAndKill, timeOf, type KillReport } from './kill.ts'

const EARLIER = 20
const LATER = 45

/** Runs to its end; what it prints. */
const run = (...args: string[]) => spawnSync(process.execPath, [program, ...args], { encoding: 'utf8' })

/** A log of `LATER` frames with a copy of when it had `EARLIER`, and a few masters that were copied in. */
function makeLog(base: string): string {
  const data = join(base, 'data')
  const capture = join(base, 'capture')
  mkdirSync(capture, { recursive: true })
  const write = (from: number, to: number) => {
    for (let i = from; i < to; i++) writeFileSync(join(capture, `${i}.fits`), fits(i, 'Light Frame'))
    run('--data', data, 'log', capture)
  }
  const masters = Array.from({ length: 5 }, (_, i) => join(base, `dark-${i}.fits`))
  const told = [{ keyword: 'NCOMBINE', value: 20 }]
  masters.forEach((path, i) => writeFileSync(path, fits(10_000 + i, 'Dark', told)))
  write(0, EARLIER)
  run('--data', data, 'library', 'add', '--copy', ...masters)
  run('--data', data, 'backup')
  write(EARLIER, LATER)
  return data
}

/** Kills `restore` at random moments: the log is the one or the other, whole, and neither is ever lost. */
export async function killRestore(kills: number, seed: number): Promise<KillReport> {
  const report: KillReport = { kills: 0, finished: 0, wrong: [] }
  const roll = dice(seed)
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-kill-'))
  try {
    const data = makeLog(base)
    const copies = join(data, 'backups')
    const [copy] = readdirSync(copies)
    const restore = ['--data', data, 'restore', copy]
    const wholeMs = await timeOf(restore)
    rmSync(join(data, 'nightshelf.db'))
    run(
      '--data',
      data,
      'restore',
      readdirSync(copies).find((name) => name.startsWith('aside'))!,
    )
    for (; report.kills < kills; report.kills++) {
      const wrong = (flaw: string) => report.wrong.push(`restore, kill ${report.kills}: ${flaw}`)
      if (await runAndKill(restore, (0.3 + 0.8 * roll()) * wholeMs)) report.finished++
      // Opening it is what goes on from wherever the kill came.
      run('--data', data, 'backup', '--list')
      const frames = count(data, 'frames')
      for (const flaw of flaws(data)) wrong(flaw)
      if (frames !== EARLIER && frames !== LATER) wrong(`the log has ${frames} frames`)
      const asides = readdirSync(copies).filter((name) => /^aside-\d+T\d+Z\.db$/.test(name))
      if (!existsSync(join(copies, copy))) wrong('the copy is gone')
      if (frames === EARLIER && asides.length === 0) wrong('the log before it is gone')
      if (frames === EARLIER) run('--data', data, 'restore', asides.at(-1)!)
      if (count(data, 'frames') !== LATER) wrong('the log before it could not be restored')
    }
  } finally {
    rmSync(base, { recursive: true, force: true })
  }
  return report
}

/** Kills `move` at random moments: whoever starts with the old folder finds every frame and every master, each time. */
export async function killMove(kills: number, seed: number): Promise<KillReport> {
  const report: KillReport = { kills: 0, finished: 0, wrong: [] }
  const roll = dice(seed)
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-kill-'))
  try {
    let data = makeLog(base)
    const start = data
    let wholeMs = 0
    for (let n = 0; report.kills < kills; n++) {
      const to = join(base, `moved-${n}`)
      for (let k = 0; k < 4 && report.kills < kills; k++) {
        const moved = await runAndKill(['--data', start, 'move', to], wholeMs ? (0.3 + 0.8 * roll()) * wholeMs : 1e6)
        report.kills++
        if (moved) report.finished++
        data = whereFrom(start)
        const wrong = (flaw: string) => report.wrong.push(`move ${n}, kill ${k}: ${flaw}`)
        const { ok, damaged } = JSON.parse(run('--data', start, 'library', 'verify', '--json').stdout) as {
          ok: number
          damaged: unknown[]
        }
        if (ok !== 5 || damaged.length) wrong(`${ok} masters are sound, ${damaged.length} are not`)
        if (count(data, 'frames') !== LATER) wrong(`the log has ${count(data, 'frames')} frames`)
        for (const flaw of flaws(data)) wrong(flaw)
        if (data === to) break
      }
      if (data !== to) {
        const { stderr, status } = run('--data', start, 'move', to)
        if (status !== 0) report.wrong.push(`move ${n}, after the kills: ${stderr}`)
        data = whereFrom(start)
      }
      if (!wholeMs) wholeMs = await timeOf(['--data', start, 'move', join(base, 'timing')])
    }
  } finally {
    rmSync(base, { recursive: true, force: true })
  }
  return report
}

/** Where the signs lead, read here anew rather than with the program's own code. */
function whereFrom(start: string): string {
  const sign = join(start, 'moved.json')
  return existsSync(sign) ? whereFrom((JSON.parse(readFileSync(sign, 'utf8')) as { to: string }).to) : start
}

/** `npm run chaos -- kill-data [--runs N] [--seed S]`: half of the kills in a restore, half in a move. */
export async function main(args: string[]): Promise<number> {
  const option = (name: string, usual: number) => {
    const at = args.indexOf(`--${name}`)
    return at < 0 ? usual : Number(args[at + 1])
  }
  const runs = option('runs', 200)
  const seed = option('seed', 1)
  const reports = [await killRestore(Math.ceil(runs / 2), seed), await killMove(Math.floor(runs / 2), seed + 1)]
  const wrong = reports.flatMap((report) => report.wrong)
  for (const line of wrong) console.log(line)
  const [restored, moved] = reports
  console.log(
    `kill-data: ${restored.kills} kills of a restore (${restored.finished} after its end), ${moved.kills} of a move (${moved.finished}), seed ${seed}: ${wrong.length ? `${wrong.length} went wrong` : 'nothing lost'}`,
  )
  return wrong.length ? 1 : 0
}
