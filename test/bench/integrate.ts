import { join } from 'node:path'
import {
  darks,
  hasReference,
  isBuilt,
  HEIGHT,
  manyDarks,
  median,
  PYTHON,
  reference,
  run,
  secondsIn,
  spread,
  WIDTH,
  work,
} from './pixels.ts'

/**
 * Integrates 20 darks of 4144 × 2822 px, 16 bit, 3σ clip: ours (in a fresh process each time, threads' start-up included), numpy and
 * astropy (start-up and imports not counted), and the read floor (one core, no rejection), in turn on the same files.
 * Bars: 12 × the reference, pixels equal to the last bit; 400 MB for 20, 64 and 200 frames. Stretch: 1.7 × the floor, 250 MB.
 * usage: node test/bench/integrate.ts [ROUNDS=5], after `npm run build`
 */
interface Once {
  seconds: number
  cpuSeconds: number
  peakMb: number
}

const once = (folder: string, ...out: string[]): Once =>
  JSON.parse(
    run(process.execPath, [
      '--disable-warning=ExperimentalWarning',
      join(import.meta.dirname, 'integrate-once.ts'),
      folder,
      ...out,
    ]),
  )

function comparePixels(ours: string, theirs: string): string {
  return run(PYTHON, [
    '-c',
    `import sys, numpy as np
from astropy.io import fits
theirs = fits.getdata(sys.argv[2]).astype('<f4')
ours = np.fromfile(sys.argv[1], '<f4').reshape(theirs.shape)
print(int((ours.view('u4') != theirs.view('u4')).sum()))`,
    ours,
    theirs,
  ]).trim()
}

function main(rounds: number): void {
  if (!hasReference) return console.log('integrate: not run (the reference programs are not beside the project)')
  if (!isBuilt('integrate')) return console.log('integrate: not run (build the program first: npm run build)')
  const frames = darks()
  const folder = manyDarks(20)
  const floor = join(work, 'read_floor')
  run('cc', ['-O3', '-march=native', reference('read_floor.c'), '-o', floor])
  const times = { ours: [] as number[], cpu: [] as number[], reference: [] as number[], floor: [] as number[] }
  const theirs = join(work, 'reference.fits')
  const ours = join(work, 'ours.raw')
  for (let round = 0; round < rounds; round++) {
    times.floor.push(secondsIn(run(floor, [String(WIDTH), String(HEIGHT), '2880', ...frames]).split(': ')[2]))
    const { seconds, cpuSeconds } = once(folder, ...(round === 0 ? [ours] : []))
    times.ours.push(seconds)
    times.cpu.push(cpuSeconds)
    times.reference.push(
      secondsIn(run(PYTHON, [reference('integrate_reference.py'), theirs, ...frames]).split(': ')[2]),
    )
  }
  const [a, b, c] = [median(times.ours), median(times.reference), median(times.floor)]
  console.log(`integrate 20 × ${WIDTH}×${HEIGHT}, 16 bit, 3σ clip, ${rounds} rounds, medians:`)
  console.log(
    `  ours            ${a.toFixed(3)} s  (${spread(times.ours)}; ${median(times.cpu).toFixed(2)} s of processor time)`,
  )
  console.log(`  numpy, astropy  ${b.toFixed(3)} s  (${spread(times.reference)}): ${(b / a).toFixed(1)} × ours; bar 12`)
  console.log(
    `  read floor      ${c.toFixed(3)} s  (${spread(times.floor)}): ours is ${(a / c).toFixed(2)} × the floor; stretch 1.7`,
  )
  console.log(`  pixels that differ from numpy and astropy: ${comparePixels(ours, theirs)}`)
  for (const count of [20, 64, 200]) {
    const { peakMb, seconds } = once(manyDarks(count))
    console.log(`  ${count} frames: peak ${peakMb.toFixed(0)} MB, ${seconds.toFixed(2)} s; bar 400 MB, stretch 250`)
  }
}

main(Number(process.argv[2] ?? 5))
