import { existsSync, readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it, onTestFinished } from 'vitest'
import { Refusal } from '../../../main/contract/index.ts'
import { logTrainChange } from '../../../db/tables/train-changes.ts'
import { putRigSpan } from '../../../db/tables/rigs.ts'
import { openEngine, type Engine } from '../../../main/engine/open.ts'
import { StillClock } from '../engines.ts'
import { createScene, NIGHT, type Scene } from './scene.ts'

async function engineOf(scene: Scene): Promise<Engine> {
  const engine = await openEngine({ dataDir: join(scene.folder, 'data'), clock: new StillClock(), zone: 'UTC' })
  onTestFinished(() => engine.close())
  return engine
}

/** A library with one flat, its dark flat and one dark of 300 s. */
async function withShelf(scene: Scene = createScene()) {
  const paths = [
    scene.master({ file: 'flat.fits', kind: 'flat', exposureS: 6 }),
    scene.master({ file: 'dark-flat.fits', kind: 'darkFlat', exposureS: 6, frames: 20 }),
    scene.master({ file: 'dark.fits', kind: 'dark', exposureS: 300, frames: 30 }),
  ]
  const engine = await engineOf(scene)
  const { added, refused } = await engine.ask('addMasters', { paths, answers: {}, copy: false })
  expect(refused).toEqual([])
  const [flat, darkFlat, dark] = ['flat', 'darkFlat', 'dark'].map((kind) => added.find((m) => m.kind === kind)!.id)
  return { scene, engine, flat, darkFlat, dark }
}

const refusal = (work: Promise<unknown>) =>
  work.then(
    () => 'nothing was refused',
    (error: unknown) => (error instanceof Refusal ? error.message : String(error)),
  )

describe('a check flat', () => {
  it('that fits its master holds, proves it from the moment it was taken, and leaves a map', async () => {
    const { scene, engine, flat, darkFlat } = await withShelf()
    const path = scene.flat('fresh', { startedAt: `${NIGHT}T22:10:00Z` })
    const before = readFileSync(path)
    const answer = await engine.ask('checkFlat', { path })
    expect(answer).toMatchObject({ kind: 'flat', holds: true, master: flat, forced: false, findings: [] })
    expect(answer.figures.darkFlat).toBe(darkFlat)
    expect(answer.figures.withinFraction).toBeGreaterThan(0.95)
    const { masters } = await engine.ask('library', {})
    expect(masters.find((m) => m.id === flat)!.provenAt).toBe(answer.at)
    const map = await engine.ask('file', { of: 'check', id: answer.id, view: 'map.png' })
    expect(map.type).toBe('image/png')
    expect(statSync(map.path).size).toBeGreaterThan(100)
    expect((await engine.ask('checksOf', { master: flat })).checks).toEqual([{ ...answer, undoneAt: null }])
    expect(readFileSync(path).equals(before)).toBe(true)
  })

  it('that held can be taken back: it stays in the record and proves nothing any more', async () => {
    const { scene, engine, flat } = await withShelf()
    const first = await engine.ask('checkFlat', { path: scene.flat('one', { startedAt: `${NIGHT}T22:10:00Z` }) })
    await engine.ask('checkFlat', { path: scene.flat('two', { startedAt: `${NIGHT}T22:20:00Z` }) })
    const provenAt = async () => (await engine.ask('master', { id: flat })).master!.provenAt
    const { step } = await engine.ask('undo', {})
    expect(step.text).toBe(`Master ${flat} was proven by two.fits.`)
    expect(await provenAt()).toBe(first.at)
    await engine.ask('undo', {})
    expect(await provenAt()).toBeNull()
    const { checks } = await engine.ask('checksOf', { master: flat })
    expect(checks.map((check) => 'undoneAt' in check && typeof check.undoneAt)).toEqual(['string', 'string'])
  })

  it('that did not hold stands with its master until a later one holds, and no longer than it counts', async () => {
    const { scene, engine, flat } = await withShelf()
    const mote = { x: 0.3, y: 0.4, diameter: 0.12, depth: 0.04 }
    const at = (time: string) => ({ startedAt: `${NIGHT}T${time}Z` })
    const refutedAt = async () => {
      const { masters } = await engine.ask('library', {})
      const listed = masters.find(({ id }) => id === flat)!.refutedAt
      expect((await engine.ask('master', { id: flat })).master!.refutedAt).toBe(listed)
      return listed
    }
    expect(await refutedAt()).toBeNull()
    const bad = await engine.ask('checkFlat', { path: scene.flat('dusty', { ...at('22:00:00'), shadows: [mote] }) })
    expect(bad.holds).toBe(false)
    expect(await refutedAt()).toBe(bad.at)
    await engine.ask('checkFlat', { path: scene.flat('clean', at('22:10:00')) })
    expect(await refutedAt()).toBeNull()
    await engine.ask('undo', {})
    expect(await refutedAt()).toBe(bad.at)
  })

  it('from a brighter, tilted panel of another colour holds all the same, and says so', async () => {
    const { scene, engine } = await withShelf()
    const panel = { tiltX: 0.03, tiltY: 0.01, balance: { R: 1.2, G: 1, B: 0.9 } }
    const answer = await engine.ask('checkFlat', { path: scene.flat('fresh', { factor: 1.15, panel }) })
    expect(answer.holds).toBe(true)
    expect(answer.findings.map((f) => f.what).sort()).toEqual(['balance', 'tilt'])
    expect(answer.figures.cellRatio[0] / answer.figures.cellRatio[1]).toBeCloseTo(1.2, 2)
  })

  it('with a new mote does not hold, names where it is, and proves nothing', async () => {
    const { scene, engine, flat } = await withShelf()
    const shadows = [{ x: 0.3, y: 0.6, diameter: 0.08, depth: 0.04 }]
    const answer = await engine.ask('checkFlat', { path: scene.flat('fresh', { shadows }) })
    expect(answer.holds).toBe(false)
    const found = answer.findings.find((f) => f.what === 'shadow-new')!
    expect(Math.abs(found.where!.x - 0.3 * 518)).toBeLessThan(12)
    expect(Math.abs(found.where!.y - 0.6 * 352)).toBeLessThan(12)
    expect((await engine.ask('library', {})).masters.find((m) => m.id === flat)!.provenAt).toBeNull()
    await engine.ask('setTolerances', { checkLocalFraction: 0.05 })
    expect((await engine.ask('checkFlat', { path: answer.path })).holds).toBe(true)
    await expect(engine.ask('setTolerances', { checkBlocksFraction: 0.06 })).rejects.toThrow(
      /more than any one of them/,
    )
  })

  it('taken with the train turned by 2° does not hold', async () => {
    const { scene, engine } = await withShelf()
    const answer = await engine.ask('checkFlat', { path: scene.flat('fresh', { rotationDeg: 2 }) })
    expect(answer.holds).toBe(false)
  })

  it('admits a flat from before a train change to the new epoch: the verdict turns from near to matched', async () => {
    const { scene, engine, flat } = await withShelf()
    const folder = join(scene.folder, 'capture')
    putRigSpan(engine.db, {
      ...{ rig: 'Garden', since: '2026-01-01T00:00:00Z', folder, camera: null, body: null, train: null, filter: null },
      ...{ siteName: null, siteLatDeg: null, siteLongDeg: null },
    })
    const change = { rig: 'Garden', scope: 'train' as const, filter: null, at: `${NIGHT}T12:00:00Z`, text: 'cleaned' }
    logTrainChange(engine.db, { ...change, closes: false }, change.at)
    scene.light('light', { filter: 'dual-band', startedAt: `${NIGHT}T21:00:00Z` })
    const [{ id }] = engine.framesOf(await engine.log([folder]))
    const verdict = async () => (await engine.ask('frame', { id })).verdicts.flat!
    expect(await verdict()).toMatchObject({ verdict: 'near', nearest: flat })
    const answer = await engine.ask('checkFlat', { path: scene.flat('fresh', { startedAt: `${NIGHT}T22:00:00Z` }) })
    expect(answer).toMatchObject({ holds: true, master: flat, forced: false })
    expect(answer.epoch).toMatch(/^Garden\/\d+$/)
    expect(await verdict()).toMatchObject({ verdict: 'matched', master: flat })
  })

  it('without its dark flat is refused with what to shoot', async () => {
    const { scene, engine } = await withShelf()
    const said = await refusal(engine.ask('checkFlat', { path: scene.flat('fresh', { exposureS: 4.5 }) }))
    expect(said).toMatch(
      /has no dark flat in the library .* shoot 20 dark flats with 4\.5 s, gain 100, offset 30, −10\.0 °C/,
    )
  })

  it('that no master should match is refused with the nearest and its differences; taken all the same it proves nothing', async () => {
    const { scene, engine, flat } = await withShelf()
    const path = scene.flat('fresh', { filter: 'luminance' })
    const said = await refusal(engine.ask('checkFlat', { path }))
    expect(said).toContain(`the nearest is master ${flat} (filter dual-band, this flat has L)`)
    const forced = await engine.ask('checkFlat', { path, master: flat })
    expect(forced.forced).toBe(true)
    expect((await engine.ask('library', {})).masters.find((m) => m.id === flat)!.provenAt).toBeNull()
  })

  it('is refused against a master whose scale nobody has told', async () => {
    const scene = createScene()
    const paths = [
      scene.master({ file: 'unit.fits', kind: 'flat', exposureS: 6, stored: 'unit' }),
      scene.master({ file: 'dark-flat.fits', kind: 'darkFlat', exposureS: 6 }),
    ]
    const engine = await engineOf(scene)
    const { added } = await engine.ask('addMasters', { paths, answers: {}, copy: false })
    const unit = added.find((m) => m.kind === 'flat')!.id
    const path = scene.flat('fresh')
    await expect(engine.ask('checkFlat', { path })).rejects.toMatchObject({
      message: expect.stringContaining('its scale (ADU or 0–1)'),
      waysOut: [{ tell: paths[0] }],
    })
    expect(await refusal(engine.ask('checkFlat', { path, master: unit }))).toContain('whether its values are ADU')
    await engine.ask('addMasters', {
      paths: paths.slice(0, 1),
      answers: { scale: 'unit', subtracted: 'darkFlat' },
      copy: false,
    })
    expect(await engine.ask('checkFlat', { path })).toMatchObject({ holds: true, master: unit })
  })
})

describe('a check dark', () => {
  it('that fits its master holds and proves it', async () => {
    const { scene, engine, dark } = await withShelf()
    const answer = await engine.ask('checkDark', { path: scene.dark('fresh') })
    expect(answer).toMatchObject({ kind: 'dark', holds: true, master: dark, findings: [] })
    await engine.ask('file', { of: 'check', id: answer.id, view: 'map.png' })
    expect((await engine.ask('library', {})).masters.find((m) => m.id === dark)!.provenAt).toBe(answer.at)
  })

  it('after a driver that moved the level by 40 ADU does not hold, and says by how much', async () => {
    const { scene, engine } = await withShelf()
    const answer = await engine.ask('checkDark', { path: scene.dark('fresh', { pedestalStepAdu: 40 }) })
    expect(answer.holds).toBe(false)
    expect(answer.findings.find((f) => f.what === 'pedestal')!.depth).toBeCloseTo(40, 0)
  })

  it('as warm as still matches holds; one beyond that does not for its glow, and says so before new darks are shot', async () => {
    const { scene, engine, dark } = await withShelf()
    const near = await engine.ask('checkDark', { path: scene.dark('near', { tempC: -9.6 }) })
    expect(near).toMatchObject({ holds: true, forced: false, findings: [] })
    const answer = await engine.ask('checkDark', { path: scene.dark('warm', { tempC: -9 }), master: dark })
    expect(answer.holds).toBe(false)
    expect(answer.text).toContain('This frame was 1.0 °C warmer than the master: first check another at −10.0 °C.')
  })

  it('of another offset is refused with the nearest and the difference', async () => {
    const { scene, engine, dark } = await withShelf()
    const said = await refusal(engine.ask('checkDark', { path: scene.dark('fresh', { offset: 50 }) }))
    expect(said).toContain(`the nearest is master ${dark} (offset 30, this dark has 50)`)
  })

  it('is refused for what is no dark, for what is not there, and for what was cut off', async () => {
    const { scene, engine } = await withShelf()
    expect(await refusal(engine.ask('checkDark', { path: scene.flat('flat') }))).toContain(
      'is a flat: name one fresh dark',
    )
    expect(await refusal(engine.ask('checkDark', { path: join(scene.folder, 'none.fits') }))).toContain('is not there')
    expect(await refusal(engine.ask('checkDark', { path: scene.folder }))).toContain('is a folder')
    expect(await refusal(engine.ask('checkDark', {}))).toContain('Name one frame')
    expect(existsSync(join(scene.folder, 'none.fits'))).toBe(false)
  })
})
