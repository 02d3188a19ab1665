import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { fetchRuntime, installedRuntime, whyNoWindow } from '../../main/host/runtime.mjs'

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightshelf-runtime-'))
  writeFileSync(join(folder, 'package.json'), '{"version":"45.4.1"}')
})
afterEach(() => {
  vi.unstubAllEnvs()
  rmSync(folder, { recursive: true })
})

describe('a window', () => {
  const desktop = { DISPLAY: ':0' }
  test.each([
    ['on a Linux desktop', { platform: 'linux', env: desktop, uid: 1000 }, null],
    ['under Wayland', { platform: 'linux', env: { WAYLAND_DISPLAY: 'wayland-0' }, uid: 1000 }, null],
    ['on Windows', { platform: 'win32', env: {}, uid: undefined }, null],
    ['on a Mac', { platform: 'darwin', env: {}, uid: 501 }, null],
    ['without a display', { platform: 'linux', env: {}, uid: 1000 }, 'There is no display here'],
    ['as root', { platform: 'linux', env: desktop, uid: 0 }, 'A window is not opened as root'],
  ])('%s', (_where, machine, why) => expect(whyNoWindow(machine)).toBe(why))
})

describe('the runtime', () => {
  const install = (version: string) => {
    mkdirSync(join(folder, 'dist'))
    writeFileSync(join(folder, 'dist', 'version'), version)
    writeFileSync(join(folder, 'dist', 'electron'), '')
    writeFileSync(join(folder, 'path.txt'), 'electron')
  }

  test('is there if it has the version of its package', () => {
    expect(installedRuntime(folder)).toBeNull()
    install('45.4.1')
    expect(installedRuntime(folder)).toBe(join(folder, 'dist', 'electron'))
  })

  test('of another version is not taken', () => {
    install('44.0.0')
    expect(installedRuntime(folder)).toBeNull()
  })

  test('is not waited for where its server refuses, is missing or never answers', async () => {
    const silent = createServer(() => {}).listen(0, '127.0.0.1')
    const missing = createServer((_request, response) => response.writeHead(404).end()).listen(0, '127.0.0.1')
    const portOf = (server: typeof silent) => (server.address() as AddressInfo).port
    await new Promise((resolve) => setTimeout(resolve, 50))
    for (const port of [1, portOf(missing), portOf(silent)]) {
      vi.stubEnv('npm_config_electron_mirror', `http://127.0.0.1:${port}/`)
      const said: string[] = []
      const startedAt = performance.now()
      expect(await fetchRuntime(folder, (line: string) => said.push(line))).toBeNull()
      expect(performance.now() - startedAt).toBeLessThan(2_000)
      expect(said).toEqual([])
    }
    silent.closeAllConnections()
    silent.close()
    missing.close()
  })

  test('says how much it fetches, and is taken once its installer has put it there', async () => {
    const server = createServer((_request, response) => {
      response.writeHead(200, { 'Content-Length': '117300000' }).end()
    }).listen(0, '127.0.0.1')
    await new Promise((resolve) => server.once('listening', resolve))
    vi.stubEnv('npm_config_electron_mirror', `http://127.0.0.1:${(server.address() as AddressInfo).port}/`)
    writeFileSync(
      join(folder, 'install.js'),
      `const fs = require('node:fs'); fs.mkdirSync(__dirname + '/dist'); fs.writeFileSync(__dirname + '/dist/version', '45.4.1')
       fs.writeFileSync(__dirname + '/dist/electron', ''); fs.writeFileSync(__dirname + '/path.txt', 'electron')`,
    )
    const said: string[] = []
    expect(await fetchRuntime(folder, (line: string) => said.push(line))).toBe(join(folder, 'dist', 'electron'))
    expect(said).toEqual([expect.stringContaining('117 MB')])
    server.close()
  })
})
