/**
 * A night of 14 hours at one frame a minute, played at speed against the real host: what the engine's process holds in memory and
 * open, and how long its write-ahead log grows. Memory rises with every frame until garbage is collected: what is held is the least of
 * two hours. Bars: +20 MB at most from the second and third hour to the last two, handles flat, log 16 MB.
 * usage: npm run chaos -- soak [--every MS=100] [--hours N=14], after `npm run build`; `--every 60000` is a night in real time.
 */
import { spawn, type ChildProcess } from 'node:child_process'
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { fitsBytes } from '../watch/files.ts'

const program = resolve(import.meta.dirname, '../../out/main/cli.js')
const MB = 1024 * 1024
const bars = { memoryMb: 20, handles: 4, walMb: 16 }

interface State {
  memoryMb: number
  handles: number
  walMb: number
}

export async function main(args: string[]): Promise<number> {
  const everyMs = option(args, '--every', 100)
  const frames = option(args, '--hours', 14) * 60
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-soak-'))
  const [capture, data] = [join(base, 'capture'), join(base, 'data')]
  mkdirSync(capture)
  const host = spawn(process.execPath, [program, '--data', data, 'serve', '--port', '0', '--watch', capture])
  try {
    await new Promise((ready) => host.stdout.once('data', ready))
    const states: State[] = []
    for (let i = 0; i < frames; i++) {
      const path = join(capture, `light_${String(i).padStart(4, '0')}.fits`)
      writeFileSync(`${path}.part`, fitsBytes({ width: 800, height: 600, seed: i + 1 }))
      renameSync(`${path}.part`, path)
      await sleep(everyMs)
      if (i % 20 !== 19) continue
      states.push(stateOf(engineOf(host), data))
    }
    await sleep(5_000)
    states.push(stateOf(engineOf(host), data))
    // Code is compiled and caches fill in the first hour: three looks.
    const [early, late] = [states.slice(3, 9), states.slice(-6)]
    const least = (some: State[], what: keyof State) => Math.min(...some.map((state) => state[what]))
    const most = (what: keyof State) => Math.max(...states.slice(3).map((state) => state[what]))
    const grew = least(late, 'memoryMb') - least(early, 'memoryMb')
    const handles = least(late, 'handles') - least(early, 'handles')
    const isWell = grew <= bars.memoryMb && handles <= bars.handles && most('walMb') <= bars.walMb
    console.log(
      `soak: ${frames} frames, one every ${everyMs} ms: memory ${least(early, 'memoryMb').toFixed(0)} MB after the first hour, ` +
        `${least(late, 'memoryMb').toFixed(0)} MB at the end (${grew.toFixed(0)} more; at most ${most('memoryMb').toFixed(0)}), handles ` +
        `${least(early, 'handles')} to ${least(late, 'handles')}, write-ahead log at most ${most('walMb').toFixed(1)} MB: ${isWell ? 'within the bars' : 'BEYOND THE BARS'}`,
    )
    return isWell ? 0 : 1
  } finally {
    host.kill('SIGTERM')
    await new Promise((ended) => (host.exitCode === null ? host.once('exit', ended) : ended(null)))
    rmSync(base, { recursive: true, force: true })
  }
}

function option(args: string[], name: string, otherwise: number): number {
  const at = args.indexOf(name)
  return at < 0 ? otherwise : Number(args[at + 1])
}

/** The engine is the host's one child. */
function engineOf({ pid }: ChildProcess): string {
  return readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim().split(' ')[0]
}

function stateOf(pid: string, data: string): State {
  const kb = /^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1]
  const wal = statSync(join(data, 'nightshelf.db-wal'), { throwIfNoEntry: false })
  return {
    memoryMb: Number(kb) / 1024,
    handles: readdirSync(`/proc/${pid}/fd`).length,
    walMb: (wal?.size ?? 0) / MB,
  }
}
