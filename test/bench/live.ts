/**
 * Last byte of a frame written → `landed` told by the engine's process, with its verdicts (the window's part not counted), for
 * 11.7 Mpx frames written in place into a folder of 2 000 files. Bar p95 250 ms, stretch 100 ms. Then the same for flats until
 * their `figures` are told, first alone, then while frames that were there before are still being measured. Bar p95 250 ms.
 * usage: node test/bench/live.ts [FRAMES=40], after `npm run build`
 */
import { fork } from 'node:child_process'
import { closeSync, existsSync, mkdirSync, mkdtempSync, openSync, rmSync, writeFileSync, writeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { encodeFits } from '../../main/fits/write.ts'
import type { FromEngine } from '../../main/contract/index.ts'

const program = resolve(import.meta.dirname, '../../out/main/engine.js')

function frame(i: number, width: number, height: number, kind = 'Light Frame'): Buffer {
  const image = new Uint16Array(width * height)
  for (let p = 0; p < image.length; p += 97) image[p] = 1000 + ((p + i * 7919) % 4001)
  image.fill(1234 + i, image.length - 5000)
  const cards = [
    { keyword: 'IMAGETYP', value: kind },
    { keyword: 'INSTRUME', value: 'Testcam 26' },
    { keyword: 'GAIN', value: 100 },
    { keyword: 'OFFSET', value: 30 },
    { keyword: 'CCD-TEMP', value: -10 },
    { keyword: 'EXPTIME', value: kind === 'Flat Field' ? 4 : 300 },
    { keyword: 'FILTER', value: 'Ha' },
    { keyword: 'DATE-OBS', value: new Date(Date.UTC(2026, 10, 20, 18) + i * 305_000).toISOString().slice(0, 19) },
  ]
  return encodeFits({ width, height, bitpix: 16, unsigned: true, cards, image, checksum: false })
}

async function main(frames: number): Promise<void> {
  if (!existsSync(program)) return console.log('live: not run (npm run build first)')
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-bench-'))
  const capture = join(base, 'capture')
  mkdirSync(capture)
  for (let i = 0; i < 2000; i++) writeFileSync(join(capture, `old_${i}.fits`), frame(i, 32, 24))
  const engine = fork(program, [join(base, 'data')], { stdio: ['ignore', 'inherit', 'inherit', 'ipc'] })
  const [landed, measured] = [new Map<string, (at: number) => void>(), new Map<string, (at: number) => void>()]
  const pathOf = new Map<number, string>()
  let answered: (message: FromEngine) => void = () => {}
  engine.on('message', (message: FromEngine) => {
    const event = 'event' in message ? message.event : null
    if (event?.event === 'landed') {
      pathOf.set(event.frame.id, event.frame.path)
      landed.get(event.frame.path)?.(performance.now())
    } else if (event?.event === 'figures') measured.get(pathOf.get(event.frame) ?? '')?.(performance.now())
    else if ('id' in message) answered(message)
  })
  let id = 1
  const ask = (request: string, input: unknown) =>
    new Promise<FromEngine>((done) => {
      answered = done
      engine.send({ id: id++, request, input })
    })
  await ask('watchFolder', { path: capture })
  for (;;) {
    const reply = (await ask('folders', {})) as { answer: { folders: { frames: number }[] } }
    if (reply.answer.folders[0].frames === 2000) break
    await sleep(200)
  }
  await sleep(2000)
  let shot = 5000
  const shoot = async (count: number, kind: string, told: typeof landed) => {
    const times: number[] = []
    for (let i = 0; i < count; i++) {
      const path = join(capture, `new_${shot}.fits`)
      const bytes = frame(shot++, 4144, 2822, kind)
      const done = new Promise<number>((resolve) => told.set(path, resolve))
      const fd = openSync(path, 'w')
      for (let at = 0; at < bytes.length; at += 1 << 20) writeSync(fd, bytes, at, Math.min(1 << 20, bytes.length - at))
      const last = performance.now()
      closeSync(fd)
      times.push((await done) - last)
      await sleep(500)
    }
    return times
  }
  const bar = '(bar p95 250 ms'
  say(
    `last byte of an 11.7 Mpx frame → landed with its verdicts`,
    await shoot(frames, 'Light Frame', landed),
    `${bar}, stretch 100 ms)`,
  )
  say('last byte of an 11.7 Mpx flat → its figures', await shoot(frames, 'Flat Field', measured), `${bar})`)
  const other = join(base, 'other')
  mkdirSync(other)
  for (let i = 0; i < 60; i++) writeFileSync(join(other, `old_${i}.fits`), frame(shot++, 4144, 2822))
  await ask('watchFolder', { path: other })
  await sleep(1000)
  say(
    'the same, while 60 frames wait to be measured',
    await shoot(Math.min(frames, 12), 'Flat Field', measured),
    `${bar})`,
  )
  await ask('shutDown', {})
  rmSync(base, { recursive: true, force: true })
}

function say(what: string, times: number[], bar: string): void {
  times.sort((a, b) => a - b)
  const at = (fraction: number) => times[Math.min(times.length - 1, Math.floor(times.length * fraction))].toFixed(0)
  console.log(`${what}, ${times.length} frames: median ${at(0.5)} ms, p95 ${at(0.95)} ms, most ${at(1)} ms ${bar}`)
}

await main(Number(process.argv[2] ?? 40))
