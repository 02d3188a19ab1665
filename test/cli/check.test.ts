import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { check } from '../../main/host/cli/verbs/check.ts'
import { proof } from '../../main/host/cli/verbs/proof.ts'
import { UsageError } from '../../main/host/cli/verb.ts'
import { openEngine } from '../../main/engine/open.ts'
import { createScene } from '../engine/inspect/scene.ts'
import { run } from './run.ts'

it('check says by its exit code whether the master holds, and proof writes where it was told', async () => {
  const scene = createScene()
  const dataDir = join(scene.folder, 'data')
  const paths = [
    scene.master({ file: 'flat.fits', kind: 'flat', exposureS: 6 }),
    scene.master({ file: 'dark-flat.fits', kind: 'darkFlat', exposureS: 6 }),
    scene.master({ file: 'dark.fits', kind: 'dark', exposureS: 300 }),
  ]
  const engine = await openEngine({ dataDir, zone: 'UTC' })
  await engine.ask('addMasters', { paths, answers: {}, copy: false })
  await engine.close()

  const good = await run(check, dataDir, ['flat', scene.flat('good')])
  expect(good.code).toBe(0)
  expect(good.document).toMatchObject({ holds: true, findings: [] })
  expect(existsSync(good.document.map as string)).toBe(true)
  expect(good.said).toContain(`map of the changes: ${good.document.map as string}`)
  expect(good.said).toContain('Holds:')
  const bad = await run(check, dataDir, ['dark', scene.dark('bad', { pedestalStepAdu: 40 })])
  expect(bad.code).toBe(1)
  expect(bad.said).toContain('Does not hold: the level stepped by')

  const out = join(scene.folder, 'proof.fits')
  const light = scene.light('light', { filter: 'dual-band' })
  const proven = await run(proof, dataDir, [light], { out })
  expect(proven.code).toBe(0)
  expect(proven.document).toMatchObject({ out, figures: { before: {}, after: {} } })
  for (const path of Object.values(proven.document.pictures as Record<string, string>))
    expect(existsSync(path)).toBe(true)
})

it('words that cannot be used are refused before anything is opened', async () => {
  await expect(run(check, '/nowhere', [])).rejects.toThrow(UsageError)
  await expect(run(check, '/nowhere', ['bias', 'a.fits'])).rejects.toThrow('it knows flat and dark')
  await expect(run(check, '/nowhere', ['flat', 'a.fits'], { master: 'x' })).rejects.toThrow(
    'takes the number of a master',
  )
  await expect(run(proof, '/nowhere', ['a.fits'])).rejects.toThrow('--out FILE')
})
