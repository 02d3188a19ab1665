import { join } from 'node:path'
import { expect, it, onTestFinished, vi } from 'vitest'
import { openEngine, type Engine } from '../../../main/engine/open.ts'
import { StillClock } from '../engines.ts'
import { createScene, NIGHT } from './scene.ts'

const later = '2026-11-22'
const by = (program: string) => ({ more: [{ keyword: 'SWCREATE', value: program }] })

/** A dark master built from three frames of Shutter 2.1, and three lights of a later night that rely on it. */
async function withLights(program: string) {
  const scene = createScene({ width: 260, height: 176 })
  const log = async () => {
    const report = await engine.log([join(scene.folder, 'capture')])
    await engine.measure(engine.framesOf(report).map(({ id }) => id))
  }
  for (let n = 1; n <= 3; n++) scene.dark(`a/dark${n}`, { startedAt: `${NIGHT}T20:0${n}:00Z`, ...by('Shutter 2.1') })
  const clock = new StillClock()
  const engine = await openEngine({ dataDir: join(scene.folder, 'data'), clock, zone: 'UTC' })
  onTestFinished(() => engine.close())
  await log()
  const { outcome } = await engine.ask('startBuild', { wait: true, kind: 'dark', least: 3 })
  expect(outcome!.built).toHaveLength(1)
  for (let n = 1; n <= 3; n++) scene.light(`b/light${n}`, { startedAt: `${later}T21:0${n}:00Z`, ...by(program) })
  clock.at = new Date(`${later}T23:00:00Z`)
  await log()
  return { scene, engine, log, master: outcome!.built[0].id }
}

const asked = async (engine: Engine) =>
  (await engine.ask('tonight', { night: later })).notices
    .filter(({ rule }) => rule === 'dark-aging')
    .map(({ text }) => text)

// Built, measured and checked from files: slow where the machine is busy.
vi.setConfig({ testTimeout: 60_000 })

it('a new version of the capture program asks for a check dark taken with it; one that holds releases the master', async () => {
  const { scene, engine, log, master } = await withLights('Shutter 2.3')
  const text = 'The 300 s dark was made with Shutter 2.1, the frames with Shutter 2.3: shoot one check frame'
  expect(await asked(engine)).toEqual([text])
  const old = scene.dark('a/check', { startedAt: `${NIGHT}T22:30:00Z`, ...by('Shutter 2.1') })
  const fresh = scene.dark('b/check', { startedAt: `${later}T22:00:00Z`, ...by('Shutter 2.3') })
  await log()
  expect(await engine.ask('checkDark', { path: old })).toMatchObject({ master, holds: true, forced: false })
  expect(await asked(engine)).toEqual([text])
  expect(await engine.ask('checkDark', { path: fresh })).toMatchObject({ master, holds: true, forced: false })
  expect(await asked(engine)).toEqual([])
  await engine.ask('undo', {})
  expect(await asked(engine)).toEqual([text])
})

it('the same version asks for nothing; a step of the black level does, and a check dark that shows it does not hold', async () => {
  const { scene, engine, log } = await withLights('Shutter 2.1')
  expect(await asked(engine)).toEqual([])
  const path = scene.dark('b/dark', { startedAt: `${later}T21:30:00Z`, pedestalStepAdu: 40, ...by('Shutter 2.1') })
  await log()
  // This sensor counts in steps of 4 ADU, and so do its medians.
  const [text, ...more] = await asked(engine)
  expect(text).toMatch(
    /^The 300 s dark was made before the black level stepped by \+(3[6-9]|4[0-4]) ADU: shoot one check frame$/,
  )
  expect(more).toEqual([])
  const { holds, findings } = await engine.ask('checkDark', { path })
  expect(holds).toBe(false)
  expect(findings.map(({ what }) => what)).toContain('pedestal')
  expect(await asked(engine)).toEqual(['The 300 s dark does not hold any more: shoot new darks'])
  await engine.ask('checkDark', {
    path: scene.dark('b/again', { startedAt: `${later}T21:40:00Z`, ...by('Shutter 2.1') }),
  })
  expect(await asked(engine)).toEqual([])
})
