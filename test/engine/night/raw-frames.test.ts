import { rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { freshEngine } from '../engines.ts'
import { frameBytes, freshFolder, writeFrame, writeRun } from '../night-files.ts'

test('darks that wait to be built are counted as they come, go and come back while a night is watched', async () => {
  const folder = freshFolder()
  const engine = await freshEngine({ live: true, watching: { intervals: { rootMs: 200 } } })
  await engine.ask('watchFolder', { path: folder })
  const dark = (i: number) => ({ kind: 'Dark Frame', filter: null, target: null, seed: 50 + i })
  writeRun(folder, 2)
  const paths = [0, 1, 2].map((i) => writeFrame(folder, `dark_${i}.fits`, dark(i)))
  /** As the night says it, and as one of its lights does. */
  const said = async () => {
    const { runs } = await engine.ask('tonight', {})
    const light = runs.find(({ kind }) => kind === 'light')
    const alone = light && (await engine.ask('frame', { id: light.frameIds[0]! }))
    return [light?.verdicts.dark?.text, alone?.verdicts.dark?.text]
  }
  const waiting = (n: number) => expect.stringContaining(`${n} dark`)
  await expect.poll(said, { timeout: 10_000 }).toEqual([waiting(3), waiting(3)])

  rmSync(paths[0]!)
  await expect.poll(said, { timeout: 10_000 }).toEqual([waiting(2), waiting(2)])
  writeFileSync(paths[0]!, frameBytes(dark(0)))
  await expect.poll(said, { timeout: 10_000 }).toEqual([waiting(3), waiting(3)])
  // Rewritten as a light, it is no dark any more.
  writeFileSync(paths[1]!, frameBytes({ seed: 90, startedAt: '2026-11-20T22:30:00' }))
  await expect.poll(said, { timeout: 10_000 }).toEqual([waiting(2), waiting(2)])
  writeFrame(join(folder, 'later'), 'dark_3.fits', dark(3))
  await expect.poll(said, { timeout: 10_000 }).toEqual([waiting(3), waiting(3)])
}, 60_000)
