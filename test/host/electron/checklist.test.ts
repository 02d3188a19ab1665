import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { installedRuntime } from '../../../main/host/runtime.mjs'
import { hardenedFuses, readFuses } from '../../../main/host/electron/fuses.ts'
import { boot, engineReady, type Booted } from './support/boot.ts'

const root = new URL('../../../', import.meta.url)
const builtText = (folder: string) =>
  readdirSync(new URL(`out/${folder}`, root), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.(js|cjs|html|css)$/.test(entry.name))
    .map((entry) => readFileSync(`${entry.parentPath}/${entry.name}`, 'utf8'))
    .join('\n')

let booted: Booted
let preferences: Record<string, unknown>
beforeAll(async () => {
  booted = await boot()
  await engineReady(booted.electron)
  preferences = booted.electron.only<{ webPreferences: Record<string, unknown> }>('new BrowserWindow').webPreferences
})
afterAll(() => booted[Symbol.asyncDispose]())

/** Plays an event that a guard must prevent. */
const isPrevented = (name: string, details: object = {}) => {
  let prevented = false
  booted.electron.page.emit(name, { ...details, preventDefault: () => (prevented = true) })
  return prevented
}

/** The items of "Security" in Electron's documentation (electronjs.org/docs/latest/tutorial/security), in its order. */
describe("Electron's security checklist", () => {
  test('1: only our own scheme is loaded, and every request to a network is cancelled', () => {
    const { electron } = booted
    expect(electron.only('window.loadURL')).toBe('nightshelf://window/')
    const [[{ urls }, decide]] = electron.calls('webRequest.onBeforeRequest') as [[{ urls: string[] }, Decide]]
    for (const scheme of ['http', 'https', 'ws', 'wss']) expect(urls).toContain(`${scheme}://*/*`)
    expect(urls).toContain('file:///*')
    decide({ url: 'https://evil.example/' }, (answer) => expect(answer).toEqual({ cancel: true }))
  })

  test('2: pages have no Node, nor have their workers and frames', () => {
    expect(preferences).toMatchObject({
      nodeIntegration: false,
      nodeIntegrationInWorker: false,
      nodeIntegrationInSubFrames: false,
    })
  })

  test('3: the preload lives in a context of its own', () => {
    expect(preferences.contextIsolation).toBe(true)
  })

  test('4: every process of a page is sandboxed, said before Electron is ready', () => {
    const order = booted.electron.done.map(({ what }) => what)
    expect(order.indexOf('app.enableSandbox')).toBeGreaterThanOrEqual(0)
    expect(order.indexOf('app.enableSandbox')).toBeLessThan(order.indexOf('app.whenReady'))
    expect(preferences.sandbox).toBe(true)
  })

  test('5: permissions and devices are refused; our page may write text to the clipboard', () => {
    const { electron } = booted
    const [[request]] = electron.calls('session.setPermissionRequestHandler') as [[RequestHandler]]
    const [[check]] = electron.calls('session.setPermissionCheckHandler') as [[CheckHandler]]
    const asked = (permission: string, requestingUrl: string) => {
      let granted: boolean | null = null
      request({}, permission, (answer) => (granted = answer), { requestingUrl })
      expect(check({}, permission, requestingUrl)).toBe(granted)
      return granted
    }
    for (const permission of [
      'media',
      'geolocation',
      'notifications',
      'midi',
      'fileSystem',
      'clipboard-read',
      'openExternal',
    ])
      expect([permission, asked(permission, 'nightshelf://window/')]).toEqual([permission, false])
    expect(asked('clipboard-sanitized-write', 'nightshelf://window/')).toBe(true)
    expect(asked('clipboard-sanitized-write', 'https://evil.example/')).toBe(false)
    expect((electron.only('session.setDevicePermissionHandler') as () => boolean)()).toBe(false)
  })

  test('6: web security stays on', () => {
    expect(preferences.webSecurity).toBe(true)
  })

  test('7: every answer of the scheme carries a policy without exceptions', async () => {
    for (const address of ['', 'index.html', 'nowhere', 'frame/1/pixels']) {
      const response = await booted.electron.respond(new Request(`nightshelf://window/${address}`))
      const policy = response.headers.get('Content-Security-Policy')
      expect(policy).toMatch(/^default-src 'none'; /)
      expect(policy).not.toMatch(/unsafe-|\*|data:|https?:/)
    }
  })

  test('8: insecure content is never allowed', () => {
    expect(preferences.allowRunningInsecureContent).toBe(false)
  })

  test('9: experimental features stay off', () => {
    expect(preferences.experimentalFeatures).toBe(false)
  })

  test('10: no features of Blink are switched on', () => {
    expect(preferences).not.toHaveProperty('enableBlinkFeatures')
    expect(booted.electron.calls('app.commandLine')).toEqual([])
    expect(builtText('main')).not.toContain('appendSwitch')
  })

  test('11: there is no webview that could open anything', () => {
    expect(preferences.webviewTag).toBe(false)
    expect(builtText('renderer')).not.toMatch(/allowpopups|<webview/)
  })

  test('12: a webview that is attached all the same is prevented', () => {
    expect(isPrevented('will-attach-webview')).toBe(true)
  })

  test('13: the page stays where it is: navigation, of any frame, and redirects are prevented', () => {
    for (const name of ['will-navigate', 'will-frame-navigate', 'will-redirect'])
      expect([name, isPrevented(name, { url: 'https://evil.example/' })]).toEqual([name, true])
  })

  test('14: no window is opened from a page', () => {
    const open = booted.electron.only<(details: unknown) => unknown>('webContents.setWindowOpenHandler')
    expect(open({ url: 'https://evil.example/' })).toEqual({ action: 'deny' })
    expect(open({ url: 'nightshelf://window/' })).toEqual({ action: 'deny' })
  })

  test('15: nothing is ever handed to the desktop to open: a file may be shown where it lies, and no more', () => {
    const text = readFileSync(new URL('out/main/electron.js', root), 'utf8')
    const done = [...text.matchAll(/\bshell\.(\w+)/g)].map(([, verb]) => verb)
    expect(new Set(done)).toEqual(new Set(['showItemInFolder']))
    expect(text).not.toMatch(/openExternal|openPath/)
  })

  test('16: Electron is the current version that the project was built with', () => {
    const wanted = JSON.parse(readFileSync(new URL('package.json', root), 'utf8')).devDependencies.electron
    const there = JSON.parse(readFileSync(new URL('node_modules/electron/package.json', root), 'utf8')).version
    expect(there).toBe(wanted)
    expect(Number(there.split('.')[0])).toBeGreaterThanOrEqual(45)
  })

  test('17: whoever is not the main frame of our own page is refused with an error, on every channel', async () => {
    const { electron } = booted
    const strangers = [
      null,
      { url: 'https://evil.example/', parent: null },
      { url: 'nightshelf://window.evil.example/', parent: null },
      { url: 'nightshelf://user@window/', parent: null },
      { url: 'file:///index.html', parent: null },
      { url: 'about:blank', parent: null },
      { url: 'nightshelf://window/', parent: {} },
    ]
    expect(electron.handlers.size).toBeGreaterThan(10)
    for (const channel of electron.handlers.keys())
      for (const frame of strangers)
        await expect(electron.ask(channel.slice('ask:'.length), {}, frame)).rejects.toThrow(/own window/)
    expect(await electron.ask('nights')).toHaveProperty('answer')
  })

  test('18: the page has a scheme of its own, and files are named by id', async () => {
    const { electron } = booted
    const [{ scheme, privileges }] = electron.only<Scheme[]>('protocol.registerSchemesAsPrivileged')
    expect(scheme).toBe('nightshelf')
    expect(privileges).toMatchObject({ standard: true, secure: true, stream: true })
    expect(privileges).not.toHaveProperty('bypassCSP')
    expect(privileges).not.toHaveProperty('allowServiceWorkers')
    expect(builtText('main')).not.toContain('loadFile')
    for (const path of ['../package.json', '..%2f..%2fpackage.json', 'assets/../../main/electron.js', '/etc/passwd'])
      expect((await electron.respond(new Request(`nightshelf://window/${path}`))).status).toBe(404)
  })

  test('19: the fuses of a program file can be read back and held against the hardened set', () => {
    const wire = Buffer.from('010101010101010101'.replaceAll('01', '0'))
    const file = Buffer.concat([Buffer.from('…dL7pKGdnNz796PbbjQWNKmHXBZaB9tsX'), Buffer.from([1, 9]), wire])
    expect(Object.values(readFuses(file))).toEqual(Array(9).fill(false))
    expect(Object.keys(hardenedFuses)).toEqual(Object.keys(readFuses(file)))
  })

  const runtime = installedRuntime(new URL('node_modules/electron', root).pathname)
  test.skipIf(!runtime)(`19: the runtime's own fuses${runtime ? '' : ' (not run: the runtime is not here)'}`, () => {
    expect(Object.keys(readFuses(readFileSync(runtime!)))).toEqual(Object.keys(hardenedFuses))
  })

  test("20: nothing of Electron's reaches the page: named verbs and one listener", () => {
    const preload = readFileSync(new URL('out/preload/preload.cjs', root), 'utf8')
    expect(preload.match(/exposeInMainWorld/g)).toHaveLength(1)
    expect(preload.match(/require\(/g)).toHaveLength(1)
    expect(existsSync(preferences.preload as string)).toBe(true)
  })
})

type Decide = (details: { url: string }, answer: (answer: unknown) => void) => void
type RequestHandler = (
  c: object,
  permission: string,
  grant: (granted: boolean) => void,
  d: { requestingUrl: string },
) => void
type CheckHandler = (contents: object, permission: string, origin: string) => boolean
type Scheme = { scheme: string; privileges: Record<string, boolean> }
