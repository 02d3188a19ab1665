import { createMeasurer } from '../../main/measure/measurer.ts'
import { builtScript } from './pixels.ts'

/**
 * Figures and thumbnail of each frame, as the second lane does it, by one thread and then by one a core; hashing apart.
 * usage: measure-once.ts FRAME...; prints JSON of seconds a frame: {one, all, oneWithHash}
 */
const paths = process.argv.slice(2)

async function secondsAFrame(workers: number | undefined, hash: boolean): Promise<number> {
  const measurer = createMeasurer({ script: builtScript('measure'), ...(workers && { workers }) })
  const how = { cfa: 'RGGB', thumbnail: true, hash }
  // The threads' start-up is no part of a frame's time: a second lane starts them once a night.
  await Promise.all(Array.from({ length: 4 }, () => measurer.measure(paths[0], how)))
  const began = performance.now()
  await Promise.all(paths.map((path) => measurer.measure(path, how)))
  const seconds = (performance.now() - began) / 1000 / paths.length
  await measurer.close()
  return seconds
}

const one = await secondsAFrame(1, false)
const all = await secondsAFrame(undefined, false)
const oneWithHash = await secondsAFrame(1, true)
console.log(JSON.stringify({ one, all, oneWithHash }))
