import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { Frame, LightSource, UndoStep } from '../../main/contract/index.ts'
import { flats } from '../../main/host/cli/verbs/flats.ts'
import { library } from '../../main/host/cli/verbs/library.ts'
import { log } from '../../main/host/cli/verbs/log.ts'
import { rules } from '../../main/host/cli/verbs/rules.ts'
import { undo } from '../../main/host/cli/verbs/undo.ts'
import { UsageError } from '../../main/host/cli/verb.ts'
import { freshFolder, writeFrame } from '../engine/night-files.ts'
import { run } from './run.ts'

function setUp() {
  const folder = freshFolder()
  const capture = join(folder, 'capture')
  const shoot = (name: string, filter: string, seed: number) =>
    writeFrame(capture, name, { kind: 'Flat Field', exposureS: 4, filter, target: null, seed })
  const paths = [shoot('a.fits', 'Ha', 1), shoot('b.fits', 'Ha', 2), shoot('c.fits', 'L', 3)]
  return { dataDir: join(folder, 'data'), capture, paths }
}

test('flats are listed with what to do, and told what lit them, by night and filter or by file; undo takes it back', async () => {
  const { dataDir, capture, paths } = setUp()
  await run(log, dataDir, [capture], { figures: true })
  const lit = async () => {
    const { frames } = (await run(log, dataDir, [capture])).document as { frames: Frame[] }
    return frames.map(({ lightSource }) => lightSource ?? null)
  }
  const listed = await run(flats, dataDir, [])
  expect(listed.document).toMatchObject({ flats: [{ frames: 2 }, { frames: 1 }] })
  expect(listed.said).toMatch(
    /^2 flats: Ha, 4 s, .*\n[^]*! Level .* ADU; aim for .* ADU\.\s+(Dim|Brighten) the\s+panel to/,
  )

  const night = await run(flats, dataDir, ['light', 'sky'], { filter: 'ha' })
  expect(night.document).toMatchObject({ frames: 2 })
  expect(await lit()).toEqual(['sky', 'sky', null])
  await run(flats, dataDir, ['light', 'panel', paths[1], paths[2]])
  expect(await lit()).toEqual(['sky', 'panel', 'panel'])
  await run(undo, dataDir, ['last'])
  expect(await lit()).toEqual(['sky', 'sky', null])
  const { steps } = (await run(undo, dataDir, [])).document as { steps: UndoStep[] }
  expect(steps.map(({ text, undoneAt }) => [text, undoneAt !== null])).toEqual([
    ['2 frames were said to be lit by: panel.', true],
    ['2 frames were said to be lit by: sky.', false],
  ])
  await run(flats, dataDir, ['light', 'header'], { filter: 'Ha' })
  expect(await lit()).toEqual([null, null, null])

  await expect(run(flats, dataDir, ['light', 'moon'])).rejects.toThrow(UsageError)
  await expect(run(flats, dataDir, ['light', 'sky', paths[0]], { filter: 'Ha' })).rejects.toThrow(UsageError)
  await expect(run(flats, dataDir, ['light', 'sky'], { filter: 'OIII' })).rejects.toThrow('No such flats are logged')
  await expect(run(flats, dataDir, ['light', 'sky', '/nowhere.fits'])).rejects.toThrow('is not in the log')
})

test('a master is told what lit it as it is taken in, and later', async () => {
  const { dataDir, paths } = setUp()
  const light = async () =>
    ((await run(library, dataDir, [])).document as { masters: { lightSource: LightSource | null }[] }).masters.map(
      (master) => master.lightSource,
    )
  await run(library, dataDir, ['add', paths[0]], { light: 'screen', frames: '25' })
  expect(await light()).toEqual(['screen'])
  expect((await run(library, dataDir, ['light', '1', 'panel'])).said).toMatch(/"nightshelf undo \d+" takes it back/)
  expect(await light()).toEqual(['panel'])
  await run(undo, dataDir, ['last'])
  expect(await light()).toEqual(['screen'])
  await expect(run(library, dataDir, ['light', '9', 'panel'])).rejects.toThrow('There is no master 9')
})

test('rules are told with their reasons, set, reset, and chosen for a camera', async () => {
  const { dataDir, capture } = setUp()
  await run(log, dataDir, [capture])
  const first = await run(rules, dataDir, [])
  expect(first.said).toMatch(/floorS +3\n.*\n?.*common practice, no source/)
  expect(first.document).toMatchObject({ cameras: [{ camera: 'Testcam 26', class: 'glow' }] })
  const set = await run(rules, dataDir, ['set', 'yours', 'floorS', '1.5'], { because: 'Found with this sensor.' })
  expect(set.said).toMatch(/yours: Your own rules, edited\n  floorS +1\.5\n +Found with this sensor\. \(set by you\)/)
  await run(rules, dataDir, ['set', 'yours', 'biasAllowed', 'yes'])
  const chosen = await run(rules, dataDir, ['camera', 'testcam 26', 'yours'])
  expect(chosen.document).toMatchObject({
    cameras: [{ class: 'yours' }],
    sensorRules: [{}, {}, { edited: true, rules: { floorS: { value: 1.5 }, biasAllowed: { value: true } } }],
  })
  const reset = await run(rules, dataDir, ['reset', 'yours'])
  expect(reset.document).toMatchObject({ sensorRules: [{}, {}, { edited: false, rules: { floorS: { value: 3 } } }] })
  await expect(run(rules, dataDir, ['set', 'glow', 'floorS', '9999'])).rejects.toThrow('lies between 0 and 3600')
  await expect(run(rules, dataDir, ['set', 'glow', 'floorS', 'long'])).rejects.toThrow(UsageError)
  await expect(run(rules, dataDir, ['set', 'loud', 'floorS', '1'])).rejects.toThrow('A class is one of')
})
