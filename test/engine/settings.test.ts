import { readdirSync, rmSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { defaultTolerances } from '../../main/contract/index.ts'
import { openEngine } from '../../main/engine/open.ts'
import { freshEngine, listenTo, StillClock } from './engines.ts'
import { writeFrame, writeRun } from './night-files.ts'
import { addMaster, captureFolder, verdictsBy } from './rigs/shelf.ts'

async function engineWith(spec: Parameters<typeof writeRun>[2] = {}) {
  const folder = captureFolder('night')
  writeRun(folder, 4, spec)
  const engine = await freshEngine()
  await engine.log([folder])
  return { engine, folder }
}

const rulesOf = async (engine: Awaited<ReturnType<typeof freshEngine>>, chosen: string) =>
  (await engine.ask('settings', {})).settings.sensorRules.find(({ rules }) => rules.class === chosen)!

test('a tolerance that is changed judges everything again, and holds after a restart; reset, it is as delivered', async () => {
  const { engine } = await engineWith()
  const told = listenTo(engine)
  await addMaster(engine, 'Dark', { tempC: -9 })
  expect(await verdictsBy(engine, 'filter', 'dark')).toEqual({ Ha: 'near' })
  told.events.length = 0
  const { settings } = await engine.ask('setTolerances', { tempC: 1 })
  expect(settings.tolerances).toEqual({ ...defaultTolerances, tempC: 1 })
  expect(await verdictsBy(engine, 'filter', 'dark')).toEqual({ Ha: 'matched' })
  await told.until(() => told.of('changed').some(({ what }) => what.includes('settings') && what.includes('night')))
  const next = await openEngine({ dataDir: engine.dataDir, clock: new StillClock(), zone: 'UTC' })
  expect((await next.ask('settings', {})).settings.tolerances.tempC).toBe(1)
  await next.close()
  await engine.ask('resetTolerances', {})
  expect(await verdictsBy(engine, 'filter', 'dark')).toEqual({ Ha: 'near' })
})

test('another number of darks asks for another number of darks', async () => {
  const { engine } = await engineWith()
  await engine.ask('setTolerances', { darkCount: 50, flatCount: 40 })
  const { shortfall } = await engine.ask('tonight', {})
  expect(shortfall.find((row) => row.kind === 'dark')?.count).toBe(50)
  expect(shortfall.find((row) => row.kind === 'flat')?.count).toBe(40)
})

test('tolerances that cannot be meant are refused in a sentence, and nothing is changed', async () => {
  const { engine } = await engineWith()
  const bad: [Parameters<typeof engine.ask<'setTolerances'>>[1], RegExp][] = [
    [{ tempC: -1 }, /lies between 0 and 10/],
    [{ tempC: 3 }, /cannot be closer than what matches/],
    [{ darkCount: 0 }, /lies between 1 and 1000/],
    [{ flatCount: 2.5 }, /whole number/],
    [{ exposureFraction: 0.4 }, /near in exposure/],
    [{ angleDeg: Number.NaN }, /setTolerances/],
  ]
  for (const [change, sentence] of bad) await expect(engine.ask('setTolerances', change)).rejects.toThrow(sentence)
  const odd = engine.ask('setTolerances', { scale: 2 } as never)
  await expect(odd).rejects.toThrow(/does not understand/)
  expect((await engine.ask('settings', {})).settings.tolerances).toEqual(defaultTolerances)
})

test('rules of a class can be edited with a reason of your own, hold for its cameras, and go back to what they were', async () => {
  const { engine } = await engineWith()
  const before = await rulesOf(engine, 'yours')
  expect(before).toMatchObject({ edited: false, rules: { floorS: { value: 3 } } })
  for (const [name, value] of Object.entries(before.rules))
    if (typeof value === 'object') expect(value.reason, name).not.toBe('')
  await engine.ask('setSensorRules', {
    class: 'yours',
    values: { floorS: { value: 8, reason: 'Mine banded below 8 s.' }, biasAllowed: { value: true } },
  })
  const after = await rulesOf(engine, 'yours')
  expect(after.edited).toBe(true)
  expect(after.rules.floorS).toEqual({ value: 8, reason: 'Mine banded below 8 s.', source: 'set by you' })
  expect(after.rules.biasAllowed).toMatchObject({ value: true, reason: before.rules.biasAllowed.reason })
  await engine.ask('setCameraClass', { camera: 'Testcam 26', class: 'yours' })
  const { shortfall } = await engine.ask('tonight', {})
  expect(shortfall.find((row) => row.kind === 'flat')?.settings.exposureS).toBe(8)
  await engine.ask('resetSensorRules', { class: 'yours' })
  expect(await rulesOf(engine, 'yours')).toEqual(before)
})

test('rules that cannot be meant are refused; scaling of darks is no rule', async () => {
  const { engine } = await engineWith()
  const bad: [Parameters<typeof engine.ask<'setSensorRules'>>[1]['values'], RegExp][] = [
    [{ floorS: { value: -1 } }, /lies between 0 and 3600/],
    [{ floorS: { value: true } }, /is a number/],
    [{ biasAllowed: { value: 1 } }, /is yes or no/],
    [{ linearFraction: { value: 2 } }, /lies between/],
    [{ scaleDarks: { value: true } }, /There is no rule "scaleDarks"/],
    [{ class: { value: 1 } }, /There is no rule "class"/],
  ]
  for (const [values, sentence] of bad)
    await expect(engine.ask('setSensorRules', { class: 'glow', values })).rejects.toThrow(sentence)
  expect((await rulesOf(engine, 'glow')).edited).toBe(false)
})

test('a site gives the night its Sun; forgotten, it has none', async () => {
  const { engine } = await engineWith()
  expect((await engine.ask('tonight', {})).sun).toBeNull()
  await engine.ask('setSite', { site: { name: 'Garden', latDeg: 50.1, longDeg: 8.2 } })
  const { sun, site } = await engine.ask('tonight', {})
  expect(site).toEqual({ name: 'Garden', latDeg: 50.1, longDeg: 8.2 })
  // Late in November the Sun sets at about 16:30 local time at 50° north: 15:32 UTC. From memory, to ten minutes.
  expect(Math.abs(Date.parse(sun!.sunsetAt!) - Date.parse('2026-11-20T15:32:00Z'))).toBeLessThan(600_000)
  await engine.ask('setSite', { site: null })
  expect((await engine.ask('tonight', {})).sun).toBeNull()
  await expect(engine.ask('setSite', { site: { name: null, latDeg: 0, longDeg: 200 } })).rejects.toThrow(/longitude/)
})

test('whether lights are dithered is unknown until it is told', async () => {
  const { engine } = await engineWith()
  expect((await engine.ask('settings', {})).settings.dither).toBeNull()
  expect((await engine.ask('setDither', { dither: true })).settings.dither).toBe(true)
  expect((await engine.ask('setDither', { dither: null })).settings.dither).toBeNull()
})

test('a keyword of your own is understood in every frame that was ever logged, without its file, until it is removed', async () => {
  const { engine, folder } = await engineWith({ offset: null, more: [{ keyword: 'SCHWARZ', value: 30 }] })
  await addMaster(engine, 'Dark')
  expect(await verdictsBy(engine, 'filter', 'dark')).toEqual({ Ha: 'unconfirmed' })
  rmSync(folder, { recursive: true })
  const { frames, settings } = await engine.ask('addSpelling', { keyword: 'schwarz', setting: 'offset' })
  expect(frames).toBe(4)
  expect(settings.spellings).toEqual([{ keyword: 'SCHWARZ', setting: 'offset', unit: null }])
  expect((await engine.ask('frame', { id: 1 })).frame.offset).toBe(30)
  expect(await verdictsBy(engine, 'filter', 'dark')).toEqual({ Ha: 'matched' })
  expect((await engine.ask('removeSpelling', { keyword: 'SCHWARZ' })).frames).toBe(4)
  expect(await verdictsBy(engine, 'filter', 'dark')).toEqual({ Ha: 'unconfirmed' })
})

test('a keyword in another unit is read in that unit', async () => {
  const { engine } = await engineWith({
    exposureS: undefined,
    tempC: null,
    more: [{ keyword: 'SENSK', value: 263.15 }],
  })
  await engine.ask('addSpelling', { keyword: 'SENSK', setting: 'sensorTempC', unit: 'K' })
  expect((await engine.ask('frame', { id: 1 })).frame.sensorTempC).toBeCloseTo(-10, 6)
})

test('spellings that cannot be meant are refused', async () => {
  const { engine } = await engineWith()
  const bad: [Parameters<typeof engine.ask<'addSpelling'>>[1], RegExp][] = [
    [{ keyword: 'X', setting: 'beauty' }, /no setting "beauty"/],
    [{ keyword: 'X', setting: 'toString' }, /no setting/],
    [{ keyword: 'X', setting: 'exposureS', unit: 'K' }, /told in s, ms, us, min/],
    [{ keyword: 'X', setting: 'filter', unit: 's' }, /has no unit/],
    [{ keyword: 'Ä=', setting: 'filter' }, /no keyword of a header/],
  ]
  for (const [asked, sentence] of bad) await expect(engine.ask('addSpelling', asked)).rejects.toThrow(sentence)
  await expect(engine.ask('removeSpelling', { keyword: 'X' })).rejects.toThrow(/no spelling of yours/)
  expect((await engine.ask('settings', {})).settings.spellings).toEqual([])
})

test('a writing program is asked about once, and the answer holds for its frames alone', async () => {
  const folder = captureFolder('two')
  writeRun(folder, 3, {
    offset: null,
    more: [
      { keyword: 'SWCREATE', value: 'Alpha 2.1' },
      { keyword: 'BLKLVL', value: 30 },
    ],
  })
  writeFrame(folder, 'other.fits', {
    offset: null,
    seed: 70,
    target: 'Other',
    more: [
      { keyword: 'SWCREATE', value: 'Beta 1' },
      { keyword: 'BLKLVL', value: 99 },
    ],
  })
  const engine = await freshEngine()
  await engine.log([folder])
  const { questions } = await engine.ask('programQuestions', {})
  expect(questions.map(({ program, setting, frames }) => ({ program, setting, frames }))).toEqual([
    { program: 'Beta 1', setting: 'offset', frames: 1 },
    { program: 'Alpha 2.1', setting: 'offset', frames: 3 },
  ])
  expect(questions[1].candidates).toMatchObject([{ keyword: 'BLKLVL', value: '30' }])
  const { frames } = await engine.ask('answerProgram', { program: 'Alpha', keyword: 'BLKLVL', means: 'offset' })
  expect(frames).toBe(3)
  await engine.ask('answerProgram', { program: 'Beta 1', keyword: 'BLKLVL', means: 'ignore' })
  expect((await engine.ask('programQuestions', {})).questions).toEqual([])
  const offsets = await Promise.all([1, 2, 3, 4].map(async (id) => (await engine.ask('frame', { id })).frame.offset))
  expect(offsets.sort()).toEqual([30, 30, 30, null])
  expect((await engine.ask('removeProgramAnswer', { program: 'Alpha', keyword: 'blklvl' })).frames).toBe(3)
  await expect(engine.ask('answerProgram', { program: 'A', keyword: 'B', means: 'nothing' })).rejects.toThrow(
    /no setting/,
  )
})

test('words of your own name filters and set frames aside', async () => {
  const { engine } = await engineWith({ filter: 'Wasserstoff', target: 'Probe 3' })
  const { frames } = await engine.ask('setWords', {
    filterAliases: { wasserstoff: 'Ha' },
    asideWords: ['probe'],
  })
  expect(frames).toBe(4)
  expect((await engine.ask('frame', { id: 1 })).frame).toMatchObject({ filter: 'Ha', aside: true })
  const { settings } = await engine.ask('setWords', { asideWords: null })
  expect(settings.words).toEqual({ filterAliases: { wasserstoff: 'Ha' }, kindWords: {}, asideWords: null })
  expect((await engine.ask('frame', { id: 1 })).frame).toMatchObject({ filter: 'Ha', aside: false })
})

test('nothing in the capture folder is written when everything is understood anew', async () => {
  const { engine, folder } = await engineWith()
  const stats = () => readdirSync(folder).map((name) => [name, statSync(join(folder, name)).ctimeMs])
  const before = stats()
  await engine.ask('addSpelling', { keyword: 'WHATEVER', setting: 'readout' })
  await engine.ask('setRig', { name: 'R', folder, filter: 'OIII' })
  expect(stats()).toEqual(before)
})
