import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, truncateSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { basename, join } from 'node:path'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import type { BuildOutcome, EngineEvent } from '../../../main/contract/index.ts'
import { openEngine, type Engine } from '../../../main/engine/open.ts'
import { openImage, readFitsInfo, type NewCard } from '../../../main/fits/index.ts'
import { normal, random } from '../../integrate/columns.ts'
import { writeFrame } from '../../measure/frames.ts'

const WIDTH = 64
const HEIGHT = 48

interface Shot {
  kind: string
  exposureS?: number
  tempC?: number
  filter?: string
  level?: number
  width?: number
}

let dir: string
let engine: Engine
let shots = 0
beforeAll(() => void (dir = mkdtempSync(join(tmpdir(), 'builds-'))))
afterAll(() => rmSync(dir, { recursive: true }))
afterEach(async () => {
  await engine.close()
})

/** Writes frames as a camera would, one every two minutes of the evening of 20 November 2026. */
function shoot(folder: string, name: string, count: number, shot: Shot): string[] {
  const { kind, exposureS = 300, tempC = -10, filter, level = 500, width = WIDTH } = shot
  mkdirSync(join(dir, folder), { recursive: true })
  return Array.from({ length: count }, (_, i) => {
    const next = random(++shots * 7919)
    const path = join(dir, folder, `${name}_${String(i).padStart(3, '0')}.fits`)
    const at = new Date(Date.UTC(2026, 10, 20, 20, 2 * shots)).toISOString().slice(0, -1)
    const cards: NewCard[] = [
      { keyword: 'INSTRUME', value: 'Heron 11C' },
      { keyword: 'IMAGETYP', value: kind },
      { keyword: 'EXPTIME', value: exposureS, real: true },
      { keyword: 'GAIN', value: 120 },
      { keyword: 'OFFSET', value: 30 },
      { keyword: 'SET-TEMP', value: -10, real: true },
      { keyword: 'CCD-TEMP', value: tempC, real: true },
      { keyword: 'XBINNING', value: 1 },
      { keyword: 'YBINNING', value: 1 },
      { keyword: 'DATE-OBS', value: at },
      ...(filter ? [{ keyword: 'FILTER', value: filter }] : []),
    ]
    writeFrame(
      path,
      width,
      Uint16Array.from({ length: width * HEIGHT }, () => level + 10 * normal(next)),
      cards,
    )
    return path
  })
}

async function open(name: string, ...folders: string[]): Promise<Engine> {
  engine = await openEngine({ dataDir: join(dir, name), zone: 'UTC' })
  if (folders.length) await engine.log(folders.map((folder) => join(dir, folder)))
  return engine
}

const build = async (ask: object = {}): Promise<BuildOutcome> =>
  (await engine.ask('startBuild', { wait: true, ...ask })).outcome!
const masters = async () => (await engine.ask('library', {})).masters
const filesOf = (name: string) =>
  existsSync(join(dir, name, 'masters')) ? readdirSync(join(dir, name, 'masters')) : []

describe('a build', { timeout: 60_000 }, () => {
  it('makes dark flats before the flats, subtracts them, and takes all into the library with figures and sources', async () => {
    shoot('whole', 'flat', 12, { kind: 'Flat', exposureS: 3.2, filter: 'Ha', level: 28000 })
    shoot('whole', 'df', 12, { kind: 'DarkFlat', exposureS: 3.2, level: 450 })
    shoot('whole', 'dark', 16, { kind: 'Dark' })
    await open('whole-data', 'whole')
    const { built, waiting } = await build()
    expect(waiting).toEqual([])
    expect(built.map((m) => [m.kind, m.frames, m.subtracted, m.scale])).toEqual([
      ['darkFlat', 12, 'none', 'adu'],
      ['dark', 16, 'none', 'adu'],
      ['flat', 12, 'darkFlat', 'adu'],
    ])
    expect(built[2].figures!.median).toBeCloseTo(28000 - 450, -1)
    expect(built[1].figures!.noise! / built[1].figures!.expectedNoise!).toBeCloseTo(1, 0)
    expect(built[1].sources).toHaveLength(16)
    expect(filesOf('whole-data').sort()).toEqual([
      '2026-11-20 Heron 11C dark 300 s minus 10 C gain 120 offset 30.fits',
      '2026-11-20 Heron 11C dark flat 3.2 s minus 10 C gain 120 offset 30.fits',
      '2026-11-20 Heron 11C flat Ha 3.2 s minus 10 C gain 120 offset 30.fits',
    ])
    expect(await build()).toEqual({ built: [], waiting: [] })
  })

  it('can be made again from its sources with the same bytes, and says when a source is another', async () => {
    const paths = shoot('again', 'dark', 12, { kind: 'Dark' })
    await open('again-data', 'again')
    const [{ id }] = (await build()).built
    expect(await engine.ask('rebuildMaster', { id })).toEqual({
      same: true,
      text: 'The same 12 frames give the same bytes.',
    })
    cpSync(paths[3], paths[4])
    expect(await engine.ask('rebuildMaster', { id })).toMatchObject({ same: false })
    rmSync(paths[5])
    await expect(engine.ask('rebuildMaster', { id })).rejects.toThrow(/needs no raw frames to stay/)
  })

  it('says what lit its flats, in the library and in its file, as it was said of its frames', async () => {
    shoot('lit', 'flat', 12, { kind: 'Flat', exposureS: 3.2, filter: 'Ha', level: 28000 })
    shoot('lit', 'df', 12, { kind: 'DarkFlat', exposureS: 3.2, level: 450 })
    await open('lit-data', 'lit')
    const [now] = (await engine.ask('flatsNow', {})).flats
    expect(now).toMatchObject({ lightSource: null, suggestedSource: null })
    const run = (await engine.ask('tonight', {})).runs.find(({ kind }) => kind === 'flat')!
    expect(now.run).toBe(run.id)
    await engine.ask('setLightSource', { frames: run.frameIds, source: 'panel' })
    const built = (await build()).built.find(({ kind }) => kind === 'flat')!
    expect(built.lightSource).toBe('panel')
    const header = () => readFitsInfo(built.path).header.text('LIGHTSRC')
    expect(header()).toBe('panel')
    expect(await engine.ask('rebuildMaster', { id: built.id })).toMatchObject({ same: true })
    // The library follows a later word; the file stays as it was written, and so does its rebuild.
    await engine.ask('setLightSource', { frames: run.frameIds, source: 'screen' })
    expect((await masters()).find(({ id }) => id === built.id)!.lightSource).toBe('screen')
    expect(header()).toBe('panel')
    expect(await engine.ask('rebuildMaster', { id: built.id })).toMatchObject({ same: true })
    expect((await engine.ask('flatsNow', {})).flats[0]).toMatchObject({
      lightSource: 'screen',
      suggestedSource: 'screen',
    })
    await engine.ask('setLightSource', { frames: run.frameIds, source: null })
    expect((await engine.ask('flatsNow', {})).flats[0].lightSource).toBeNull()
  })

  it('rebuilds a flat with its dark flat and the frames that were left out', async () => {
    shoot('flat again', 'flat', 12, { kind: 'Flat', exposureS: 3.2, filter: 'Ha', level: 28000 })
    shoot('flat again', 'faint', 1, { kind: 'Flat', exposureS: 3.2, filter: 'Ha', level: 5000 })
    shoot('flat again', 'df', 12, { kind: 'DarkFlat', exposureS: 3.2, level: 450 })
    await open('flat-again-data', 'flat again')
    const flat = (await build()).built.find((m) => m.kind === 'flat')!
    expect(flat.rejected).toEqual([
      { path: join(dir, 'flat again', 'faint_000.fits'), reason: expect.stringMatching(/^Its level is [45]/) },
    ])
    expect(await engine.ask('rebuildMaster', { id: flat.id })).toMatchObject({ same: true })
    const detail = await engine.ask('masterDetail', { id: flat.id })
    expect(detail.sources.filter((s) => s.rejected === null)).toHaveLength(12)
    expect(detail.histogram.counts.reduce((a, b) => a + b)).toBe(WIDTH * HEIGHT)
  })

  it('says before anything is computed what is ready, what waits and what is left out; by hand a frame comes back', async () => {
    shoot('preview', 'dark', 11, { kind: 'Dark' })
    const [warm] = shoot('preview', 'warm', 1, { kind: 'Dark', tempC: -9 })
    shoot('preview', 'short', 3, { kind: 'Dark', exposureS: 60 })
    await open('preview-data', 'preview')
    const { groups, running } = await engine.ask('builds', {})
    expect(running).toBeNull()
    expect(groups.map((g) => [g.state, g.have, g.need, g.unmeasured, g.leftOut.map((l) => basename(l.path))])).toEqual([
      ['ready', 11, 10, 11, ['warm_000.fits']],
      ['waiting', 3, 10, 3, []],
    ])
    const id = groups[0].leftOut[0].frameId
    const { built } = await build({ keep: [id] })
    expect([built[0].frames, built[0].rejected]).toEqual([12, []])
    expect(built[0].sources).toContain(warm)
  })

  it('leaves out a frame that was cut or rewritten since it was logged, names it, and builds the rest', async () => {
    const paths = shoot('changed', 'dark', 14, { kind: 'Dark' })
    await open('changed-data', 'changed')
    const report = await engine.log([join(dir, 'changed')])
    await engine.measure(report.files.map((file) => file.id))
    truncateSync(paths[2], 5000)
    const [other] = shoot('elsewhere', 'dark', 1, { kind: 'Dark', level: 505 })
    cpSync(other, paths[6])
    const [master] = (await build()).built
    expect(master.frames).toBe(12)
    expect(master.rejected.map((r) => basename(r.path))).toEqual(['dark_002.fits', 'dark_006.fits'])
    for (const { reason } of master.rejected) expect(reason).toMatch(/^[A-Z].*\.$/)
  })

  it('waits with a sentence when a share goes away, and goes on with the rest', async () => {
    shoot('share', 'dark', 12, { kind: 'Dark' })
    shoot('local', 'dark', 12, { kind: 'Dark', exposureS: 60 })
    await open('share-data', 'share', 'local')
    const report = await engine.log([join(dir, 'share'), join(dir, 'local')])
    await engine.measure(report.files.map((file) => file.id))
    rmSync(join(dir, 'share'), { recursive: true })
    const { built, waiting } = await build()
    expect(built.map((m) => m.exposureS)).toEqual([60])
    expect(waiting).toHaveLength(1)
    expect(waiting[0]).toMatchObject({ kind: 'dark', need: 10 })
    expect(waiting[0].reason).toMatch(/^Only 9 of 12 frames can be used now .*, and 10 are needed\.$/)
    expect(filesOf('share-data')).toHaveLength(1)
  })

  it('keeps frames of another size in a group of their own', async () => {
    shoot('sizes', 'dark', 12, { kind: 'Dark' })
    shoot('sizes', 'small', 2, { kind: 'Dark', width: 32 })
    await open('sizes-data', 'sizes')
    const { built, waiting } = await build()
    expect([built.length, waiting[0].have]).toEqual([1, 2])
  })

  it('that cannot be written says so, leaves nothing, and a later one succeeds', async () => {
    shoot('blocked', 'dark', 12, { kind: 'Dark' })
    await open('blocked-data', 'blocked')
    writeFileSync(join(dir, 'blocked-data', 'masters'), 'a file where the folder should be')
    const { built, waiting } = await build()
    expect(built).toEqual([])
    expect(waiting[0].reason).toMatch(/^(The master cannot be written|Nothing may be written).*\.$/)
    expect(await masters()).toEqual([])
    rmSync(join(dir, 'blocked-data', 'masters'))
    expect((await build()).built).toHaveLength(1)
  })

  it('can be stopped: what is finished stays, nothing else is left, and it says how far it was', async () => {
    for (const exposureS of [30, 60, 120, 240]) shoot('stopped', `dark${exposureS}`, 12, { kind: 'Dark', exposureS })
    await open('stopped-data', 'stopped')
    const events: EngineEvent[] = []
    let isStopped = false
    engine.listen((event) => {
      events.push(event)
      if (isStopped || event.event !== 'progress' || event.title.startsWith('Measuring') || event.done < 12) return
      isStopped = true
      void engine.ask('stopBuild', {})
    })
    await expect(build()).rejects.toThrow('The build was stopped')
    const kept = await masters()
    expect(kept.length).toBeLessThan(4)
    expect(filesOf('stopped-data')).toHaveLength(kept.length)
    const progress = events.filter((e) => e.event === 'progress')
    expect(progress.at(-1)).toMatchObject({ job: 'build', state: 'stopped' })
    // Their pixels are looked at first, and that is told frame by frame.
    const measuring = progress.filter(({ title }) => title === 'Measuring 48 frames')
    expect(measuring.map(({ done, total }) => [done, total]).at(-1)).toEqual([48, 48])
    const rest = await build()
    expect(kept.length + rest.built.length).toBe(4)
  })

  it('runs alone', async () => {
    shoot('alone', 'dark', 12, { kind: 'Dark' })
    await open('alone-data', 'alone')
    const first = build()
    await expect(build()).rejects.toThrow('A build is running already')
    expect((await first).built).toHaveLength(1)
  })

  it('of one frame only, or of identical frames, is that frame', async () => {
    const [path] = shoot('single', 'dark', 1, { kind: 'Dark' })
    await open('single-data', 'single')
    const [master] = (await build({ least: 1 })).built
    using made = openImage(master.path)
    using raw = openImage(path)
    expect(Array.from(made.readAll() as Float32Array)).toEqual(Array.from(raw.readAll() as Uint16Array))
  })

  it('sweeps away what a killed process left half written', async () => {
    shoot('swept', 'dark', 12, { kind: 'Dark' })
    await open('swept-data', 'swept')
    mkdirSync(join(dir, 'swept-data', 'masters'))
    writeFileSync(join(dir, 'swept-data', 'masters', '.999999999-abcdef12.part'), 'half')
    await build()
    expect(filesOf('swept-data')).toHaveLength(1)
  })

  it('can be taken back: its frames can be built again, its file stays', async () => {
    shoot('undone', 'dark', 12, { kind: 'Dark' })
    await open('undone-data', 'undone')
    const [{ id, path }] = (await build()).built
    const { step } = await engine.ask('undo', {})
    expect(step).toMatchObject({ of: 'library', text: expect.stringMatching(`^Master ${id} was built: 2026-11-20`) })
    expect(await masters()).toEqual([])
    expect(existsSync(path)).toBe(true)
    expect((await engine.ask('builds', {})).groups).toMatchObject([{ have: 12, state: 'ready' }])
    const [again] = (await build()).built
    expect(again.id).toBeGreaterThan(id)
  })
})
