import { join } from 'node:path'
import { darks, hasReference, isBuilt, median, PYTHON, reference, run, secondsIn, spread } from './pixels.ts'

/**
 * Figures of 11.7-megapixel frames (levels per channel, clipping, noise, thumbnail): ours, and numpy's in turn on the same files.
 * Bar: 12 × faster than the reference; stretch 20 ×.
 * usage: node test/bench/measure.ts [ROUNDS=5], after `npm run build`
 */
function main(rounds: number): void {
  if (!hasReference) return console.log('measure: not run (the reference programs are not beside the project)')
  if (!isBuilt('measure')) return console.log('measure: not run (build the program first: npm run build)')
  const frames = darks().slice(0, 8)
  const times = { one: [] as number[], all: [] as number[], hash: [] as number[], reference: [] as number[] }
  const script = join(import.meta.dirname, 'measure-once.ts')
  for (let round = 0; round < rounds; round++) {
    const ours = JSON.parse(run(process.execPath, ['--disable-warning=ExperimentalWarning', script, ...frames]))
    times.one.push(ours.one)
    times.all.push(ours.all)
    times.hash.push(ours.oneWithHash)
    times.reference.push(secondsIn(run(PYTHON, [reference('measure_reference.py'), ...frames])))
  }
  const theirs = median(times.reference)
  const line = (name: string, of: number[]) =>
    console.log(
      `  ${name} ${median(of).toFixed(3)} s a frame (${spread(of)}): ${(theirs / median(of)).toFixed(1)} × as fast`,
    )
  console.log(
    `measure 4144×2822, 16 bit, RGGB, figures and thumbnail, ${rounds} rounds, medians; bar 12 ×, stretch 20 ×:`,
  )
  console.log(`  numpy           ${theirs.toFixed(3)} s a frame (${spread(times.reference)})`)
  line('ours, one core  ', times.one)
  line('ours, all cores ', times.all)
  line('one core, SHA-256', times.hash)
}

main(Number(process.argv[2] ?? 5))
