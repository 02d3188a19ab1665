import { mkdirSync, mkdtempSync, rmSync, utimesSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { newestSource, whyNotRunnable } from '../../main/host/sources.mjs'

let root: string
const write = (name: string, atS: number) => {
  writeFileSync(join(root, name), '')
  utimesSync(join(root, name), atS, atS)
}
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'nightshelf-sources-'))
  for (const folder of ['main', 'renderer', 'db', 'out']) mkdirSync(join(root, folder))
  write('main/one.ts', 1_000)
  write('db/0001.sql', 2_000)
})
afterEach(() => rmSync(root, { recursive: true }))
const build = () => writeFileSync(join(root, 'out', 'stamp.json'), JSON.stringify(newestSource(root)))

test('a build as new as its newest source runs', () => {
  build()
  expect(whyNotRunnable(root)).toBeNull()
})

test('a missing build is refused with what to do', () => {
  expect(whyNotRunnable(root)).toMatch(/not built yet.*npm run build/)
})

test('a build is refused once a source was changed, added or taken away', () => {
  build()
  write('renderer/two.ts', 1_500)
  expect(whyNotRunnable(root)).toMatch(/newer than the build.*npm run build/)
  build()
  write('main/one.ts', 3_000)
  expect(whyNotRunnable(root)).toMatch(/newer than the build/)
  build()
  rmSync(join(root, 'db/0001.sql'))
  expect(whyNotRunnable(root)).toMatch(/newer than the build/)
})
