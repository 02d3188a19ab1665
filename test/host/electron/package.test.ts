import { execFileSync, spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { writeRun } from '../../engine/night-files.ts'
import { hardenedFuses, readFuses, setFuse } from '../../../main/host/electron/fuses.ts'
import { licenceOf, packageOf } from '../../../main/host/electron/package/licences.ts'

/**
 * The packager is run here for real, on a folder that stands in for Electron's runtime: what it puts together is looked at,
 * and what of it needs no Electron is run. That the program starts is not shown by this: the runtime is not here.
 */

const root = fileURLToPath(new URL('../../../', import.meta.url))
const require = createRequire(import.meta.url)
const base = mkdtempSync(join(tmpdir(), 'nightshelf-package-'))
const packed = join(base, 'out', 'linux-unpacked')
const beside = join(packed, 'resources', 'app.asar.unpacked')

/** A program's bytes with fuses as Electron 45 is delivered: 9 of them, in version 1. */
const programWithFuses = (wire = '101100010') =>
  Buffer.concat([
    Buffer.alloc(999, 1),
    Buffer.from('dL7pKGdnNz796PbbjQWNKmHXBZaB9tsX\x01\x09'),
    Buffer.from(wire),
    Buffer.alloc(99, 2),
  ])

let listed: string[] = []
beforeAll(() => {
  const runtime = join(base, 'runtime')
  for (const folder of ['resources', 'locales']) mkdirSync(join(runtime, folder), { recursive: true })
  writeFileSync(join(runtime, 'electron'), programWithFuses(), { mode: 0o755 })
  for (const file of ['version', 'LICENSE', 'LICENSES.chromium.html', 'locales/en-US.pak'])
    writeFileSync(join(runtime, file), 'stand-in')
  const script = join(root, 'node_modules', 'electron-builder', 'cli.js')
  const to = [`-c.electronDist=${runtime}`, `-c.directories.output=${join(base, 'out')}`]
  execFileSync(process.execPath, [script, '--dir', '--linux', '--x64', ...to], { cwd: root, stdio: 'pipe' })
  const asar = require('@electron/asar') as { listPackage(file: string, how: object): string[] }
  listed = asar.listPackage(join(packed, 'resources', 'app.asar'), { isPack: true })
}, 120_000)
afterAll(() => rmSync(base, { recursive: true, force: true }))

/** `pack   : /out/main/electron.js` → whether it is in the archive or beside it. */
const where = (file: string) => /^(pack|unpack)/.exec(listed.find((line) => line.endsWith(` : ${file}`)) ?? '')?.[1]

describe('the package', () => {
  test('holds what was built, the licence and the database binding of its platform, and nothing else', () => {
    const files = listed.map((line) => line.replace(/^\w+ *: \//, '')).filter((file) => /\.\w+$|LICENSE$/.test(file))
    const strange = files.filter(
      (file) =>
        !/^(package\.json|LICENSE|out\/(main|preload|renderer|kernels)\/.*|node_modules\/better-sqlite3\/(lib\/.*|package\.json|LICENSE))$/.test(
          file,
        ),
    )
    expect(strange).toEqual(['node_modules/better-sqlite3/prebuilds/linux-x64.node'])
    for (const folder of ['main', 'preload', 'kernels'])
      for (const file of readdirSync(join(root, 'out', folder))) expect(where(`/out/${folder}/${file}`)).toBeDefined()
    for (const kind of ['main', 'renderer']) expect(where(`/out/${kind}/licences.txt`)).toBeDefined()
  })

  test('keeps the program and its page in the archive, and what threads load beside it', () => {
    for (const file of ['main/electron.js', 'preload/preload.cjs', 'renderer/index.html'])
      expect([file, where(`/out/${file}`)]).toEqual([file, 'pack'])
    const workers = readdirSync(join(root, 'out', 'main')).filter((file) => file.endsWith('-worker.js'))
    expect(workers.length).toBeGreaterThanOrEqual(5)
    for (const file of ['engine.js', ...workers]) expect([file, where(`/out/main/${file}`)]).toEqual([file, 'unpack'])
    expect(where('/out/kernels/combine16.wasm')).toBe('unpack')
  })

  test('has everything beside the archive that engine and threads import: it logs, measures, builds and backs up, run from there', () => {
    const cli = join(beside, 'out', 'main', 'cli.js')
    const run = (...args: string[]) =>
      spawnSync(process.execPath, [cli, '--data', join(base, 'data'), ...args], { encoding: 'utf8', env: { PATH: '' } })
    const folder = join(base, 'night')
    mkdirSync(folder)
    writeRun(folder, 4, { kind: 'Dark' })
    expect(run('log', folder, '--figures').stdout).toBe('4 files seen: 4 new.\n')
    const built = JSON.parse(run('build', '--least', '3', '--json').stdout) as { built: { frames: number }[] }
    expect(built.built).toMatchObject([{ frames: 4 }])
    expect(run('backup').stdout).toMatch(/Copied and checked/)
  }, 60_000)

  test('has all nine fuses as they should be', () => {
    expect(readFuses(readFileSync(join(packed, 'nightshelf')))).toEqual(hardenedFuses)
  })
})

describe('its configuration', () => {
  test("is valid by the packager's own schema, for every system", async () => {
    const { getConfig, validateConfiguration } = require('app-builder-lib/out/util/config/config.js') as {
      getConfig(folder: string, file: string, own: object | null): Promise<Record<string, unknown>>
      validateConfiguration(config: unknown, log: object): Promise<void>
    }
    const config = await getConfig(root, 'electron-builder.yml', null)
    await expect(validateConfiguration(config, { isEnabled: false, add: () => {} })).resolves.toBeUndefined()
    for (const system of ['win', 'mac', 'linux']) expect(config).toHaveProperty(`${system}.target`)
    expect(config).toMatchObject({ publish: null, npmRebuild: false, mac: { hardenedRuntime: true } })
    for (const file of ['icon', 'afterPack']) expect(existsSync(join(root, config[file] as string))).toBe(true)
    const icon = readFileSync(join(root, config.icon as string))
    expect([icon.readUInt32BE(16), icon.readUInt32BE(20)]).toEqual([1024, 1024])
  })

  test('a fuse is set in every copy of them that a program has, and one that is not there is an error', () => {
    const twice = Buffer.concat([programWithFuses('000000000'), programWithFuses('000000000')])
    setFuse(twice, 'wasmTrapHandlers', true)
    expect(twice.toString('latin1').match(/000000001/g)).toHaveLength(2)
    const older = Buffer.from('dL7pKGdnNz796PbbjQWNKmHXBZaB9tsX\x01\x0800000000')
    expect(() => setFuse(older, 'wasmTrapHandlers', true)).toThrow(/no fuse "wasmTrapHandlers"/)
    expect(() => setFuse(Buffer.from('no program'), 'runAsNode', false)).toThrow(/no fuses/)
  })

  test('licences of what is built in are collected with their texts', () => {
    expect(packageOf('/x/node_modules/@scope/name/deep/file.js')).toBe('/x/node_modules/@scope/name')
    expect(packageOf('/x/main/own.ts')).toBeNull()
    expect(licenceOf(join(root, 'node_modules', 'svelte'))).toMatch(
      /^svelte [\d.]+\nLicence: MIT\n\n[\s\S]*Permission is hereby granted/,
    )
    const collected = readFileSync(join(root, 'out', 'renderer', 'licences.txt'), 'utf8')
    expect(collected).toContain('SIL Open Font License')
    expect(collected).toContain('svelte ')
  })
})
