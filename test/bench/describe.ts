/** Naming a rig over 20 000 logged frames: how long until every one is described again, and the longest that nothing else ran. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openEngine } from '../../main/engine/open.ts'
import { writeFrame } from '../engine/night-files.ts'
import { watchHeld } from './held.ts'

const FRAMES = Number(process.argv[2] ?? 20_000)
const base = mkdtempSync(join(tmpdir(), 'nightshelf-describe-'))
const folder = join(base, 'pier')
for (let i = 0; i < FRAMES; i++)
  writeFrame(folder, `n${i % 40}/light_${i}.fits`, {
    startedAt: new Date(Date.UTC(2026, 0, 1, 20) + i * 305_000).toISOString().slice(0, 19),
    filter: null,
    seed: i + 1,
  })
const engine = await openEngine({ dataDir: join(base, 'data'), zone: 'UTC' })
await engine.log([folder])
for (const filter of ['Ha', 'OIII', 'Ha']) {
  const watching = watchHeld()
  const began = performance.now()
  await engine.ask('setRig', { name: 'pier', folder, filter })
  const took = performance.now() - began
  const { wallMs, ownMs } = await watching.stop()
  console.log(
    `${FRAMES} frames described again in ${(took / 1000).toFixed(2)} s; longest block ${wallMs.toFixed(0)} ms, of which own work ${ownMs.toFixed(0)} ms`,
  )
}
await engine.close()
rmSync(base, { recursive: true })
