import { existsSync, readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { allChecks } from '../../../db/tables/checks.ts'
import { createScene } from './scene.ts'
import { freshEngine } from '../engines.ts'
import { keepCheck, storePicture } from '../../../main/engine/inspect/record.ts'
import type { Core } from '../../../main/engine/core.ts'
import type { Fresh } from '../../../main/engine/inspect/fresh.ts'

it('old checks are forgotten with their pictures: the newest twenty stay, what proves, and what can be taken back', async () => {
  const engine = await freshEngine()
  const scene = createScene({ width: 130, height: 88 })
  const paths = [scene.master({ file: 'dark.fits', kind: 'dark', exposureS: 300 })]
  const { added } = await engine.ask('addMasters', { paths, answers: {}, copy: false })
  const clock = { now: () => new Date('2026-11-20T23:00:00Z') }
  const core = { ...engine, clock, changed: () => {} } as unknown as Core
  const keep = (day: number, holds: boolean) => {
    const at = new Date(Date.UTC(2026, 0, day)).toISOString()
    const fresh = { at, frame: { path: `/capture/${day}.fits`, rig: null, filter: null } } as unknown as Fresh
    const id = keepCheck(core, fresh, { kind: 'dark', master: added[0].id, holds, result: {} })
    storePicture(engine.dataDir, id, 'map.png', new Uint8Array(8))
    return id
  }
  const proving = keep(1, true)
  const takenBack = keep(2, true)
  await engine.ask('undo', {})
  const old = [keep(3, false), keep(4, false)]
  const newest = Array.from({ length: 20 }, (_, n) => keep(5 + n, false))
  const pictures = join(engine.dataDir, 'checks', '0')
  writeFileSync(join(pictures, '900-before.png'), 'of a check that is no more')
  writeFileSync(join(pictures, 'notes.txt'), 'not ours')
  newest.push(keep(30, false))

  const left = [proving, takenBack, ...newest.slice(1)]
  expect(allChecks(engine.db).map(({ id }) => id)).toEqual(left)
  expect(old.map((id) => existsSync(join(pictures, `${id}-map.png`)))).toEqual([false, false])
  expect(readdirSync(pictures).sort()).toEqual([...left.map((id) => `${id}-map.png`), 'notes.txt'].sort())
})
