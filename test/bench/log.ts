/**
 * A backlog of 10 000 frames, header and database, each exactly once: ours as a user runs it (a fresh process and database each
 * time, start-up counted), and astropy reading the same headers and storing nothing (start-up not counted), in turn.
 * Bar: 2 × the reference's rate, stretch 4 ×. usage: node test/bench/log.ts [ROUNDS=5], after `npm run build`
 */
import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { encodeFits } from '../../main/fits/write.ts'
import { hasReference, median, PYTHON, reference, run, work } from './pixels.ts'

const FRAMES = 10_000
const program = resolve(import.meta.dirname, '../../out/main/cli.js')

/** Small pictures under full headers (60 cards): what is measured is headers, not the disk. Kept for the next run. */
function backlog(): string {
  const folder = join(work, 'backlog')
  mkdirSync(folder, { recursive: true })
  if (readdirSync(folder).length === FRAMES) return folder
  const image = new Uint16Array(64 * 32)
  for (let i = 0; i < FRAMES; i++) {
    for (let p = 0; p < image.length; p++) image[p] = 1000 + ((p * 7919 + i * 104_729) % 997)
    const cards = cardsOf(i)
    const bytes = encodeFits({ width: 64, height: 32, bitpix: 16, unsigned: true, cards, image, checksum: false })
    writeFileSync(join(folder, `light_${String(i).padStart(5, '0')}.fits`), bytes)
  }
  return folder
}

const cardsOf = (i: number) => [
  { keyword: 'IMAGETYP', value: 'Light Frame', comment: 'kind of frame' },
  { keyword: 'INSTRUME', value: 'Testcam 26', comment: 'camera' },
  {
    keyword: 'DATE-OBS',
    value: new Date(Date.UTC(2026, 0, 1) + i * 305_000).toISOString().slice(0, 23),
    comment: 'UTC',
  },
  { keyword: 'EXPTIME', value: 300, real: true, comment: 's' },
  { keyword: 'GAIN', value: 100 },
  { keyword: 'OFFSET', value: 30 },
  { keyword: 'CCD-TEMP', value: -10 + (i % 7) / 10, real: true, comment: 'degrees C' },
  { keyword: 'SET-TEMP', value: -10, real: true, comment: 'degrees C' },
  { keyword: 'XBINNING', value: 1 },
  { keyword: 'YBINNING', value: 1 },
  { keyword: 'FILTER', value: ['L', 'Ha', 'OIII', 'SII'][Math.floor(i / 40) % 4] },
  { keyword: 'OBJECT', value: `Field ${Math.floor(i / 500)}` },
  { keyword: 'TELESCOP', value: 'Refractor 80' },
  { keyword: 'FOCALLEN', value: 480, real: true, comment: 'mm' },
  { keyword: 'SITELAT', value: 48.1, comment: 'degrees' },
  { keyword: 'SITELONG', value: 11.5, comment: 'degrees' },
  { keyword: 'AIRMASS', value: 1 + (i % 900) / 1000 },
  { keyword: 'FOCPOS', value: 12_000 + (i % 60) },
  ...Array.from({ length: 30 }, (_, k) => ({ keyword: `AUX${k}`, value: k * 1.5, comment: `auxiliary value ${k}` })),
]

function secondsOfOurs(folder: string, frames = FRAMES): number {
  const data = mkdtempSync(join(tmpdir(), 'nightshelf-bench-'))
  const began = performance.now()
  const said = run(process.execPath, [program, '--data', data, 'log', folder])
  const seconds = (performance.now() - began) / 1000
  if (frames && !said.includes(`${frames} new`)) throw new Error(`not every frame was logged: ${said}`)
  rmSync(data, { recursive: true, force: true })
  return seconds
}

const rateOfTheirs = (folder: string): number => {
  const files = readdirSync(folder).map((name) => join(folder, name))
  return Number(/(\d+) frames\/s/.exec(run(PYTHON, [reference('header_reference.py'), ...files]))![1])
}

const rates = (all: number[]) =>
  `${median(all).toFixed(0)} frames a second (${Math.min(...all).toFixed(0)} to ${Math.max(...all).toFixed(0)})`

function main(rounds: number): void {
  if (!existsSync(program)) return console.log('log: not run (npm run build first)')
  const folder = backlog()
  const ours: number[] = []
  const likeTheirs: number[] = []
  const theirs: number[] = []
  const nothing = mkdtempSync(join(tmpdir(), 'nightshelf-bench-'))
  for (let round = 0; round < rounds; round++) {
    const seconds = secondsOfOurs(folder)
    ours.push(FRAMES / seconds)
    // Theirs is timed from after its imports: ours like it is what logging 10 000 frames takes beyond logging none.
    likeTheirs.push(FRAMES / (seconds - secondsOfOurs(nothing, 0)))
    if (hasReference) theirs.push(rateOfTheirs(folder))
  }
  rmSync(nothing, { recursive: true })
  console.log(`log a backlog of ${FRAMES} frames, ${rounds} rounds, medians; bar 2 ×, stretch 4 ×:`)
  if (hasReference) console.log(`  astropy, headers only        ${rates(theirs)}`)
  else console.log('  astropy, headers only        not run (the reference programs are not beside the project)')
  const ratio = (rates: number[]) => (hasReference ? `: ${(median(rates) / median(theirs)).toFixed(1)} × as fast` : '')
  console.log(`  ours, headers and database   ${rates(ours)}${ratio(ours)}`)
  console.log(`  … our start-up not counted   ${rates(likeTheirs)}${ratio(likeTheirs)}`)
}

main(Number(process.argv[2] ?? 5))
