import { expect, test } from 'vitest'
import { freshEngine } from '../engines.ts'
import { writeRun } from '../night-files.ts'
import { addMaster, captureFolder } from '../rigs/shelf.ts'

test('a frame that lands is held to its own body where two rigs expose with one camera name at once', async () => {
  const engine = await freshEngine()
  const [pier, roof] = [captureFolder('pier'), captureFolder('roof')]
  for (const path of [pier, roof]) await engine.ask('watchFolder', { path })
  const master = await addMaster(engine, 'Dark')
  const dark = async (id: number) => (await engine.ask('frame', { id })).verdicts.dark
  writeRun(pier, 3)
  await engine.log([pier])
  expect(await dark(1)).toMatchObject({ verdict: 'matched', master })
  writeRun(roof, 3, { more: [{ keyword: 'FOCPOS', value: 7 }] })
  await engine.log([roof])
  expect(await dark(4)).toMatchObject({ verdict: 'unconfirmed', nearest: master })
  expect(await dark(1)).toMatchObject({ verdict: 'unconfirmed', nearest: master })
})
