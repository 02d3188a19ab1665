import { closeSync, mkdirSync, mkdtempSync, openSync, rmSync, writeFileSync, writeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { performance } from 'node:perf_hooks'
import { setTimeout as sleep } from 'node:timers/promises'
import { watchFolders } from '../../main/watch/watch.ts'
import { fitsBytes } from '../watch/files.ts'

/**
 * Watching 40 000 files that lie still, and how soon after its last byte an 11.7 Mpx frame that is written into their midst is
 * told. Bars: at most 1 % of a core and 250 MB, stretch 0.3 % and 150 MB; p95 well below 100 ms.
 * Run with Node 24: `node test/bench/watch.ts [folders] [seconds]`. Memory includes this program's own 23 MB frame.
 */
const folders = Number(process.argv[2] ?? 40)
const seconds = Number(process.argv[3] ?? 60)
const files = 40_000
const frames = 40

const root = mkdtempSync(join(tmpdir(), 'nightshelf-bench-'))
for (let i = 0; i < files; i++) {
  const place = join(root, `night${i % folders}`)
  if (i < folders) mkdirSync(place)
  writeFileSync(join(place, `${i}.fits`), 'x')
}

const cpuMs = (since?: NodeJS.CpuUsage) => {
  const { user, system } = process.cpuUsage(since)
  return (user + system) / 1000
}
const memoryMb = () => Math.round(process.memoryUsage().rss / 1e6)

let told: (at: number) => void = () => {}
const began = process.cpuUsage()
const watcher = watchFolders({
  folders: [root],
  isKnown: (path) => !path.includes('landing'),
  on: ({ event }) => {
    if (event === 'complete') told(performance.now())
  },
})
await watcher.ready
await sleep(2000 + folders * 30)
console.log(
  `begin      ${files} files in ${folders} folders: ${Math.round(cpuMs(began))} ms of a core, ${memoryMb()} MB`,
)

const bytes = fitsBytes({ width: 4144, height: 2822 })
const delays: number[] = []
for (let i = 0; i < frames; i++) {
  const path = join(root, 'night0', `landing${i}.fits`)
  const fd = openSync(path, 'w')
  for (let at = 0; at < bytes.length; at += 1 << 20) writeSync(fd, bytes, at, Math.min(1 << 20, bytes.length - at))
  const last = performance.now()
  const landed = new Promise<number>((resolve) => (told = resolve))
  closeSync(fd)
  delays.push((await landed) - last)
  rmSync(path)
  await sleep(50)
}
delays.sort((a, b) => a - b)
const at = (p: number) => delays[Math.min(frames - 1, Math.floor(p * frames))].toFixed(1)
console.log(
  `last byte → told   median ${at(0.5)} ms, p95 ${at(0.95)} ms, most ${at(1)} ms (${frames} frames of 11.7 Mpx)`,
)

await sleep(6000)
const idle = process.cpuUsage()
await sleep(seconds * 1000)
const percent = (cpuMs(idle) / (seconds * 1000)) * 100
console.log(`idle ${seconds} s   ${percent.toFixed(2)} % of a core, ${memoryMb()} MB`)
await watcher.close()
rmSync(root, { recursive: true })
