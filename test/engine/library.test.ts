import { copyFileSync, existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { freshEngine } from './engines.ts'
import { freshFolder, writeFrame, writeRun, type FrameSpec } from './night-files.ts'

const told = [
  { keyword: 'NCOMBINE', value: 20 },
  { keyword: 'BUNIT', value: 'ADU' },
  { keyword: 'SUBTRACT', value: 'none' },
]
const master = (name: string, spec: FrameSpec = {}) =>
  writeFrame(freshFolder(), name, {
    kind: 'Dark',
    filter: null,
    startedAt: '2026-10-01T20:00:00',
    seed: 300,
    more: told,
    ...spec,
  })

test('a master is taken in with the key fields of its header, and stays where it is', async () => {
  const engine = await freshEngine()
  const path = master('dark.fits')
  const { added, refused } = await engine.ask('addMasters', { paths: [path] })
  expect(refused).toEqual([])
  expect(added[0]).toMatchObject({
    kind: 'dark',
    path,
    camera: 'Testcam 26',
    gain: 100,
    offset: 30,
    sensorTempC: -10,
    exposureS: 300,
    frames: 20,
    scale: 'adu',
    subtracted: 'none',
    state: 'ready',
    madeAt: '2026-10-01T20:00:00.000Z',
    ageDays: 50,
  })
})

test('a light that was due is matched by the master, and the other way round when it retires', async () => {
  const folder = freshFolder()
  writeRun(folder, 3)
  const engine = await freshEngine()
  await engine.log([folder])
  const verdict = async () => (await engine.ask('tonight', {})).runs[0].verdicts.dark?.verdict
  expect(await verdict()).toBe('due')
  const { added } = await engine.ask('addMasters', { paths: [master('dark.fits')] })
  expect(await verdict()).toBe('matched')
  expect((await engine.ask('retireMaster', { id: added[0].id })).master.state).toBe('retired')
  expect(await verdict()).toBe('due')
  expect((await engine.ask('restoreMaster', { id: added[0].id })).master.state).toBe('ready')
  expect(await verdict()).toBe('matched')
})

describe('what the header lacks', () => {
  const bare: FrameSpec = { kind: undefined, gain: null, offset: null, tempC: null, camera: null }

  test('is named field by field, and the name of the file is offered, not taken', async () => {
    const engine = await freshEngine()
    const path = master('master_dark_300s_-10C_gain100_offset30.fits', {
      ...bare,
      kind: null as never,
      exposureS: null as never,
    })
    const { added, refused } = await engine.ask('addMasters', { paths: [path] })
    expect(added).toEqual([])
    expect(refused[0].lacks.sort()).toEqual(['camera', 'exposureS', 'gain', 'kind', 'offset', 'sensorTempC'].sort())
    expect(refused[0].reason).toMatch(/does not say its .*camera/)
    for (const offered of ['kind dark', 'gain 100', 'offset 30', 'temperature -10', 'exposure 300'])
      expect(refused[0].reason).toContain(offered)
  })

  test('is filled by what a person says', async () => {
    const engine = await freshEngine()
    const path = master('dark.fits', { ...bare, kind: null as never, exposureS: null as never })
    const { added, refused } = await engine.ask('addMasters', {
      paths: [path],
      answers: { kind: 'dark', camera: 'Testcam 26', gain: 100, offset: 30, tempC: -10, exposureS: 300 },
    })
    expect(refused).toEqual([])
    expect(added[0]).toMatchObject({ kind: 'dark', gain: 100, offset: 30, sensorTempC: -10, exposureS: 300 })
  })

  test('may be lacking where the lights of that camera never have it either: unknown on both sides counts as equal', async () => {
    const folder = freshFolder()
    writeRun(folder, 3, { offset: null })
    const engine = await freshEngine()
    await engine.log([folder])
    const { added } = await engine.ask('addMasters', { paths: [master('dark.fits', { offset: null })] })
    expect(added[0]?.offset).toBeNull()
    expect((await engine.ask('tonight', {})).runs[0].verdicts.dark?.verdict).toBe('matched')
  })

  test('scale and history are asked for, not demanded: the master is there, unconfirmed until they are told', async () => {
    const folder = freshFolder()
    writeRun(folder, 3)
    const engine = await freshEngine()
    await engine.log([folder])
    const path = master('dark.fits', { more: [] })
    const first = await engine.ask('addMasters', { paths: [path] })
    expect(first.added[0]).toMatchObject({ scale: null, subtracted: null, frames: null })
    expect((await engine.ask('tonight', {})).runs[0].verdicts.dark?.verdict).toBe('unconfirmed')
    const second = await engine.ask('addMasters', {
      paths: [path],
      answers: { scale: 'adu', subtracted: 'none', frames: 20 },
    })
    expect(second.added[0]).toMatchObject({ id: first.added[0].id, scale: 'adu', subtracted: 'none', frames: 20 })
    expect((await engine.ask('tonight', {})).runs[0].verdicts.dark?.verdict).toBe('matched')
  })
})

test('the same file twice, or its copy under another name, is one master', async () => {
  const engine = await freshEngine()
  const path = master('dark.fits')
  const copy = join(freshFolder(), 'copy.fits')
  copyFileSync(path, copy)
  await engine.ask('addMasters', { paths: [path] })
  const again = await engine.ask('addMasters', { paths: [path, copy] })
  expect(again).toMatchObject({ added: [], refused: [] })
  expect(again.already).toHaveLength(2)
  expect((await engine.ask('library', {})).masters).toHaveLength(1)
})

test('a copy that is asked for stands whole in the data folder, under a name of its own', async () => {
  const engine = await freshEngine()
  const one = master('dark.fits', { seed: 1 })
  const two = master('dark.fits', { seed: 2 })
  const { added } = await engine.ask('addMasters', { paths: [one, two], copy: true })
  const folder = join(engine.dataDir, 'masters')
  expect(added.map((m) => m.path)).toEqual([join(folder, 'dark.fits'), join(folder, 'dark-2.fits')])
  expect(readFileSync(added[0].path).equals(readFileSync(one))).toBe(true)
  expect(readFileSync(added[1].path).equals(readFileSync(two))).toBe(true)
})

test('one that cannot be taken in keeps none of the others out, is named once, and says why in one sentence', async () => {
  const engine = await freshEngine()
  const folder = freshFolder()
  const text = join(folder, 'text.fits')
  writeFileSync(text, 'no FITS\n'.repeat(500))
  const cut = join(folder, 'cut.fits')
  writeFileSync(cut, readFileSync(master('dark.fits')).subarray(0, 3000))
  const light = master('light.fits', { kind: 'Light Frame', more: [] })
  const { added, refused } = await engine.ask('addMasters', {
    paths: [join(folder, 'nowhere.fits'), text, cut, light, folder, master('dark.fits')],
  })
  expect(added).toHaveLength(1)
  expect(refused.map((one) => one.path)).toEqual([join(folder, 'nowhere.fits'), text, cut, light])
  for (const { reason } of refused) expect(reason).toMatch(/^[A-Z][^\n]*\.$/)
})

test('a raw frame of the log is not taken for a master by a careless wildcard', async () => {
  const folder = freshFolder()
  const paths = writeRun(folder, 3, { kind: 'Dark', filter: null, more: [{ keyword: 'SUBTRACT', value: 'none' }] })
  const engine = await freshEngine()
  await engine.log([folder])
  const { added, refused } = await engine.ask('addMasters', { paths })
  expect(added).toEqual([])
  expect(refused[0]).toMatchObject({ lacks: ['frames'] })
  expect(refused[0].reason).toMatch(/single raw frame/)
})

describe('verifying', () => {
  test('finds every flipped byte, takes the master out of matching, and takes it back when the file is whole', async () => {
    const engine = await freshEngine()
    const path = master('dark.fits')
    const { added } = await engine.ask('addMasters', { paths: [path] })
    const whole = readFileSync(path)
    for (let i = 0; i < 40; i++) {
      const flipped = Buffer.from(whole)
      flipped[Math.floor((i * flipped.length) / 40)] ^= 1 << (i % 8)
      writeFileSync(path, flipped)
      const { ok, damaged } = await engine.ask('verifyLibrary', {})
      expect({ ok, ids: damaged.map((one) => one.id) }).toEqual({ ok: 0, ids: [added[0].id] })
    }
    expect((await engine.ask('library', {})).masters[0].state).toBe('damaged')
    writeFileSync(path, whole)
    expect(await engine.ask('verifyLibrary', {})).toEqual({ ok: 1, damaged: [] })
    expect((await engine.ask('library', {})).masters[0].state).toBe('ready')
  })

  test('a master whose disk is away is told of, and not taken for damaged', async () => {
    const engine = await freshEngine()
    const folder = join(freshFolder(), 'disk')
    mkdirSync(folder)
    const path = join(folder, 'dark.fits')
    copyFileSync(master('dark.fits'), path)
    await engine.ask('addMasters', { paths: [path] })
    renameSync(folder, `${folder}-away`)
    const { ok, damaged } = await engine.ask('verifyLibrary', {})
    expect(ok).toBe(0)
    expect(damaged[0].reason).toMatch(/connect its disk/)
    expect((await engine.ask('library', {})).masters[0].state).toBe('ready')
  })

  test('a master that was moved by hand is found again by adding it where it is now', async () => {
    const engine = await freshEngine()
    const path = master('dark.fits')
    const { added } = await engine.ask('addMasters', { paths: [path] })
    const moved = join(freshFolder(), 'elsewhere.fits')
    renameSync(path, moved)
    expect((await engine.ask('verifyLibrary', {})).damaged).toHaveLength(1)
    const again = await engine.ask('addMasters', { paths: [moved] })
    expect(again.added[0]).toMatchObject({ id: added[0].id, path: moved, state: 'ready' })
  })
})

test('a master that does not exist is refused by its number', async () => {
  const engine = await freshEngine()
  await expect(engine.ask('retireMaster', { id: 77 })).rejects.toThrow('There is no master 77 in the library.')
  expect(existsSync(engine.dataDir)).toBe(true)
})
