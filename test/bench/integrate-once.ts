import { readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { createIntegrator } from '../../main/integrate/integrate.ts'
import { builtScript } from './pixels.ts'

/**
 * One integration in a process of its own, as a build does it: threads are started, frames read, pixels in memory at the end.
 * usage: integrate-once.ts FOLDER [OUT.raw]; prints JSON {seconds, cpuSeconds, peakMb}
 */
const [folder, out] = process.argv.slice(2)
const paths = readdirSync(folder)
  .filter((name) => name.endsWith('.fits'))
  .sort()
  .map((name) => join(folder, name))
const began = performance.now()
const cpu = process.cpuUsage()
const integrator = createIntegrator({ script: builtScript('integrate') })
const { pixels } = await integrator.integrate({ paths, method: { name: 'sigmaClip', low: 3, high: 3, rounds: 5 } })
const seconds = (performance.now() - began) / 1000
const { user, system } = process.cpuUsage(cpu)
await integrator.close()
if (out) writeFileSync(out, new Uint8Array(pixels.buffer, pixels.byteOffset, pixels.byteLength))
const peakMb = process.resourceUsage().maxRSS / 1024
console.log(JSON.stringify({ seconds, cpuSeconds: (user + system) / 1e6, peakMb }))
