import { expect, test } from 'vitest'
import { readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { freshEngine } from './engines.ts'
import { writeRun } from './night-files.ts'
import { captureFolder } from './rigs/shelf.ts'

test('without a desktop, the place of a file is told instead of shown; a host learns it by id', async () => {
  const folder = captureFolder('night')
  const [path] = writeRun(folder, 1)
  const engine = await freshEngine()
  await engine.log([folder])
  await expect(engine.ask('reveal', { frame: 1 })).rejects.toThrow(path)
  await expect(engine.ask('reveal', { master: 1 })).rejects.toThrow('There is no master 1.')
  expect(await engine.ask('place', { of: 'frame', id: 1 })).toEqual({ path })
  rmSync(path)
  await expect(engine.ask('place', { of: 'frame', id: 1 })).rejects.toThrow(/not there at the moment/)
})

test('a host writes the table of a night where its user said, over an older one, and never among the camera’s frames', async () => {
  const folder = captureFolder('night')
  const [frame] = writeRun(folder, 2)
  const tables = captureFolder('tables')
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('watchFolder', { path: folder })
  const { csv } = await engine.ask('nightLog', {})
  const path = join(tables, 'night.csv')
  writeFileSync(path, 'an older one, and longer'.repeat(1000))
  writeFileSync(`${path}.part`, 'somebody else’s')
  expect(await engine.ask('writeNightLog', { path })).toEqual({ path, night: '2026-11-20', frames: 2 })
  expect(readFileSync(path, 'utf8')).toBe(csv)
  expect(readdirSync(tables)).toEqual(['night.csv', 'night.csv.part'])
  expect(readFileSync(`${path}.part`, 'utf8')).toBe('somebody else’s')
  const before = readdirSync(folder)
  await expect(engine.ask('writeNightLog', { path: join(folder, 'night.csv') })).rejects.toThrow(
    /where the camera's own frames are: write the table elsewhere/,
  )
  await expect(engine.ask('writeNightLog', { path: frame! })).rejects.toThrow(/elsewhere|another file/)
  await expect(engine.ask('writeNightLog', { path: join(tables, 'none', 'night.csv') })).rejects.toThrow(
    /make it first/,
  )
  await expect(engine.ask('writeNightLog', { path: tables })).rejects.toThrow(/could not be written/)
  expect(readdirSync(folder)).toEqual(before)
  await expect(engine.ask('chooseFolder', {})).rejects.toThrow(/type the path/)
  await expect(engine.ask('saveNightLog', { night: '2026-11-20' })).rejects.toThrow(/nightshelf export/)
})
