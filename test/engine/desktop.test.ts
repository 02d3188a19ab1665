import { expect, test } from 'vitest'
import { rmSync } from 'node:fs'
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
