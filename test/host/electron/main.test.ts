import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { describe, expect, test, vi } from 'vitest'
import { untilTrue } from '../support/headless.ts'
import { boot, engineReady, type Booted } from './support/boot.ts'
import { BOUNDS } from './support/stand-in.ts'

const notice = (id: string, severity: string, acknowledged = false) => ({
  id,
  rule: 'no-flat',
  severity,
  text: `Shoot the flats of ${id} now.`,
  acknowledged,
  frameIds: [7],
})

/** What the engine answers to `tonight` from now on, and its word that the night changed. */
async function tellNight(
  { electron, folders }: Booted,
  tonight: { notices?: unknown[]; shortfall?: unknown[]; [more: string]: unknown },
) {
  writeFileSync(
    `${folders.data}/tonight.json`,
    JSON.stringify({ runs: [{ id: 'run-7', frameIds: [7] }], notices: [], shortfall: [], ...tonight }),
  )
  return electron.ask('unwatchFolder', { id: 1 })
}

describe('coming up', () => {
  test('claims its scheme and guards its pages before Electron is ready, and opens the window last', async () => {
    await using host = await boot()
    const order = host.electron.done.map(({ what }) => what)
    const inOrder = [
      'protocol.registerSchemesAsPrivileged',
      'app.requestSingleInstanceLock',
      'app.whenReady',
      'utilityProcess.fork',
      'protocol.handle',
      'new BrowserWindow',
      'window.loadURL',
    ]
    expect(order.filter((what) => inOrder.includes(what))).toEqual(inOrder)
    expect(order.at(-1)).toBe('window.loadURL')
  })

  test('gives the engine the data folder, and Chromium one below it', async () => {
    await using host = await boot()
    const [[script, args]] = host.electron.calls('utilityProcess.fork')
    expect(script).toMatch(/out[\\/]main[\\/]engine\.js$/)
    expect(args).toEqual([host.folders.data])
    expect(host.electron.calls('app.setPath')).toEqual([['userData', expect.stringContaining(host.folders.data)]])
  })

  test('a second start shows the first window and does nothing else', async () => {
    await using second = await boot({ isFirst: false })
    expect(second.electron.calls('app.quit')).toHaveLength(1)
    expect(second.electron.windows).toHaveLength(0)
    expect(second.electron.engines).toHaveLength(0)
    await using first = await boot()
    first.electron.app.emit('second-instance')
    expect(first.electron.calls('window.show')).toHaveLength(1)
    expect(first.electron.calls('window.focus')).toHaveLength(1)
  })

  test('the window is dark and hidden until it has something to show', async () => {
    await using host = await boot()
    expect(host.electron.only('new BrowserWindow')).toMatchObject({ show: false, backgroundColor: '#000000' })
    expect(host.electron.calls('window.show')).toHaveLength(0)
    host.electron.window.emit('ready-to-show')
    expect(host.electron.calls('window.show')).toHaveLength(1)
  })

  test('watches the folders named on the command line', async () => {
    await using host = await boot({ args: ['--watch', '/frames', '--watch', '/missing'] })
    await engineReady(host.electron)
    const folders = async () => JSON.stringify(await host.electron.ask('folders'))
    await expect.poll(folders).toContain('"/frames"')
    expect(await folders()).not.toContain('/missing')
  })

  test('a database that cannot be opened is said in its own sentence, and the program ends', async () => {
    await using host = await boot({ dataName: 'refuses' })
    await untilTrue(() => host.electron.calls('dialog.showErrorBox').length > 0)
    expect(host.electron.only('dialog.showErrorBox')).toBe('Nightshelf cannot start')
    expect(host.electron.calls('dialog.showErrorBox')[0][1]).toMatch(/newer Nightshelf/)
    await host.electron.quit
  })
})

describe('the page', () => {
  test('is answered on its named channels: with an answer, a refusal or a fault, never with an exception', async () => {
    await using host = await boot()
    expect(await host.electron.ask('nights')).toMatchObject({ answer: { nights: [{ night: '2026-11-20' }] } })
    expect(await host.electron.ask('watchFolder', { path: '/missing' })).toEqual({
      refused: 'There is no folder /missing.',
    })
    expect(await host.electron.ask('watchFolder', { path: 1 })).toMatchObject({
      refused: expect.stringContaining('path'),
    })
    expect(await host.electron.ask('library')).toMatchObject({ failed: expect.not.stringContaining('TypeError') })
  })

  test("the host's own requests have no channel", async () => {
    await using host = await boot()
    for (const request of ['file', 'place', 'shutDown', 'wake'])
      await expect(host.electron.ask(request)).rejects.toThrow('no handler registered')
  })

  test("shows a frame or master in the file manager by its id; the path is the engine's", async () => {
    await using host = await boot()
    expect(await host.electron.ask('reveal', { frame: 1 })).toEqual({ answer: {} })
    expect(await host.electron.ask('reveal', { master: 1 })).toEqual({ answer: {} })
    const shown = [[`${host.folders.data}/frame.fits`], [`${host.folders.data}/master.fits`]]
    expect(host.electron.calls('shell.showItemInFolder')).toEqual(shown)
    expect(await host.electron.ask('reveal', { frame: 2 })).toEqual({ refused: 'There is no frame 2.' })
    for (const wrong of [{}, { path: '/etc/passwd' }, { frame: 1, path: '/etc/passwd' }, { frame: '1' }])
      expect(await host.electron.ask('reveal', wrong)).toHaveProperty('refused')
    expect(host.electron.calls('shell.showItemInFolder')).toEqual(shown)
  })

  test('chooses a folder in the system’s own window, or none', async () => {
    await using host = await boot()
    expect(await host.electron.ask('chooseFolder')).toEqual({ answer: { path: null } })
    host.electron.chosenPath = '/frames/tonight'
    expect(await host.electron.ask('chooseFolder')).toEqual({ answer: { path: '/frames/tonight' } })
    const [parent, options] = host.electron.calls('dialog.showOpenDialog').at(-1)!
    expect(parent).toBe(host.electron.window)
    expect(options).toMatchObject({ properties: ['openDirectory'] })
  })

  test('saves a night’s table where its user says; the page names no path, and the engine refuses folders of frames', async () => {
    await using host = await boot()
    const save = () => host.electron.ask('saveNightLog', { night: '2026-11-20' })
    expect(await save()).toEqual({ answer: { saved: false, frames: 0 } })
    host.electron.chosenPath = '/tables/night.csv'
    expect(await save()).toEqual({ answer: { saved: true, frames: 3 } })
    expect(host.electron.calls('dialog.showSaveDialog').at(-1)![1]).toMatchObject({
      defaultPath: 'night-2026-11-20.csv',
    })
    host.electron.chosenPath = '/frames/night.csv'
    expect(await save()).toEqual({ refused: '/frames/night.csv lies in /frames.' })
    expect(await host.electron.ask('saveNightLog', { night: '2026-11-20', path: '/etc/passwd' })).toHaveProperty(
      'refused',
    )
  })

  test('hears every event, and how the engine is whenever it is loaded', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    const before = host.electron.calls('webContents.send').length
    host.electron.page.emit('dom-ready')
    expect(host.electron.calls('webContents.send').slice(before)).toEqual([
      ['event', { event: 'engine', state: 'ready' }],
    ])
    await host.electron.ask('watchFolder', { path: '/frames' })
    await untilTrue(() => host.electron.calls('webContents.send').length > before + 1)
    expect(host.electron.calls('webContents.send').at(-1)).toEqual(['event', { event: 'changed', what: ['folders'] }])
  })

  test('is loaded anew when its process is gone', async () => {
    await using host = await boot()
    host.electron.page.emit('render-process-gone')
    expect(host.electron.calls('webContents.reload')).toHaveLength(1)
  })

  test('gets the bytes of a frame by id, whole or in part, streamed', async () => {
    await using host = await boot()
    const get = (path: string, headers = {}) =>
      host.electron.respond(new Request(`nightshelf://window/${path}`, { headers }))
    const whole = await get('frame/1/pixels')
    expect(whole.status).toBe(200)
    expect(whole.headers.get('Content-Type')).toBe('application/fits')
    expect((await whole.arrayBuffer()).byteLength).toBe(1000)
    const part = await get('frame/1/pixels', { Range: 'bytes=10-19' })
    expect([part.status, part.headers.get('Content-Range')]).toEqual([206, 'bytes 10-19/1000'])
    expect([...new Uint8Array(await part.arrayBuffer())]).toEqual([10, 11, 12, 13, 14, 15, 16, 17, 18, 19])
    expect((await get('frame/2/pixels')).status).toBe(404)
    expect((await get('')).headers.get('Content-Type')).toMatch('text/html')
  })
})

describe('an engine that dies', () => {
  test('is started again, and the page and the tray are told', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    const pending = host.electron.ask('verifyLibrary')
    process.kill(host.electron.engines[0], 'SIGKILL')
    expect(await pending).toMatchObject({ refused: expect.stringContaining('try again') })
    await untilTrue(() => host.electron.engines.length === 2)
    expect(host.electron.calls('tray.setToolTip').flat().join()).toContain('is being started again')
    await expect.poll(() => host.electron.ask('nights')).toHaveProperty('answer')
  })
})

describe('tray and notifications', () => {
  test('the desktop is told of what must be done now, once each, and of nothing else', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    await tellNight(host, {
      notices: [notice('a', 'actNow'), notice('b', 'beforeTeardown'), notice('c', 'actNow', true)],
    })
    await untilTrue(() => host.electron.notifications.length > 0)
    await tellNight(host, { notices: [notice('a', 'actNow'), notice('d', 'actNow')] })
    await untilTrue(() => host.electron.notifications.length > 1)
    const bodies = host.electron.calls('new Notification').map(([options]) => (options as { body: string }).body)
    expect(bodies).toEqual(['Shoot the flats of a now.', 'Shoot the flats of d now.'])
    expect(host.electron.calls('notification.show')).toHaveLength(2)
  })

  test('a click on one brings the window to the run that it is about', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    await tellNight(host, { notices: [notice('a', 'actNow')] })
    await untilTrue(() => host.electron.notifications.length > 0)
    host.electron.notifications[0].emit('click')
    expect(host.electron.calls('window.loadURL').at(-1)).toEqual(['nightshelf://window/#/tonight?run=run-7'])
    expect(host.electron.calls('window.show')).toHaveLength(1)
  })

  test('the tray says the most urgent thing, and its menu begins with it', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    await tellNight(host, { shortfall: [{ urgency: 'beforeTeardown' }] })
    const said = 'Nightshelf: Before the rig is touched: 1 run still to be shot'
    await untilTrue(() => host.electron.calls('tray.setToolTip').flat().includes(said))
    const [menu] = host.electron.calls('tray.setContextMenu').at(-1) as [{ label?: string; click?: () => void }[]]
    expect(menu[0]).toMatchObject({ label: said.slice('Nightshelf: '.length), enabled: false })
    menu.find(({ label }) => label === 'Show the window')!.click!()
    expect(host.electron.calls('window.show')).toHaveLength(1)
  })
})

describe('sleep', () => {
  test('when the machine wakes, the engine looks at its folders at once', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    host.electron.powerMonitor.emit('resume')
    const log = `${host.folders.data}/engine.log`
    await untilTrue(() => existsSync(log))
    expect(readFileSync(log, 'utf8')).toBe('woken\n')
  })
})

describe('closing', () => {
  const close = (host: Booted) => {
    let prevented = false
    host.electron.window.emit('close', { preventDefault: () => (prevented = true) })
    return prevented
  }

  test('hides the window and asks, the first time only; the logging goes on', async () => {
    await using host = await boot()
    expect(close(host)).toBe(true)
    await untilTrue(() => host.electron.calls('window.hide').length === 1)
    expect(close(host)).toBe(true)
    expect(host.electron.calls('dialog.showMessageBox')).toHaveLength(1)
    expect(host.electron.calls('window.hide')).toHaveLength(2)
    expect(host.electron.calls('app.quit')).toHaveLength(0)
    expect(JSON.parse(readFileSync(`${host.folders.data}/window-place.json`, 'utf8'))).toEqual({
      ...BOUNDS,
      strip: false,
      maximized: false,
    })
  })

  test('ends the program where that is the answer, after the engine has closed its database', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    host.electron.chosen = 1
    close(host)
    await host.electron.quit
    expect(readFileSync(`${host.folders.data}/engine.log`, 'utf8')).toBe('closed\n')
    expect(close(host)).toBe(false)
  })

  test('the window opens where it was, if that is still on a screen', async () => {
    const place = { x: 100, y: 50, width: 1000, height: 800 }
    await using near = await boot({
      before: (data) => writeFileSync(`${data}/window-place.json`, JSON.stringify(place)),
    })
    expect(near.electron.only('new BrowserWindow')).toMatchObject(place)
    const away = { ...place, x: 5_000 }
    await using far = await boot({ before: (data) => writeFileSync(`${data}/window-place.json`, JSON.stringify(away)) })
    expect(far.electron.only('new BrowserWindow')).toMatchObject({ width: 1280 })
    expect(far.electron.only('new BrowserWindow')).not.toHaveProperty('x')
  })
})

describe('the strip', () => {
  const labels = (menu: unknown) => JSON.stringify(menu)
  const stripItem = (menu: unknown) => {
    const items = (menu as { submenu?: unknown; label?: string }[]).flatMap((item) =>
      Array.isArray(item.submenu) ? item.submenu : [item],
    )
    return (items as { label?: string; checked?: boolean; accelerator?: string; click: () => void }[]).find(
      ({ label }) => label?.includes('strip'),
    )!
  }

  test('is 480 px wide at the right edge of its screen and above other windows, from menu, tray and key alike', async () => {
    await using host = await boot()
    const menu = host.electron.calls('Menu.setApplicationMenu').at(-1)![0]
    expect(stripItem(menu)).toMatchObject({ checked: false, accelerator: 'CommandOrControl+Shift+S' })
    stripItem(menu).click()
    expect(host.electron.calls('window.setAlwaysOnTop')).toEqual([[true, 'floating']])
    expect(host.electron.calls('window.setBounds')).toEqual([[{ x: 1440, y: 0, width: 480, height: 1080 }]])
    const tray = host.electron.calls('tray.setContextMenu').at(-1)![0]
    expect(stripItem(tray).checked).toBe(true)
    expect(stripItem(host.electron.calls('Menu.setApplicationMenu').at(-1)![0]).checked).toBe(true)
    stripItem(tray).click()
    expect(host.electron.calls('window.setAlwaysOnTop').at(-1)).toEqual([false])
    expect(host.electron.calls('window.setBounds').at(-1)).toEqual([BOUNDS])
    expect(labels(tray)).toContain('Show the window')
  })

  test('is remembered, with the place that the window has otherwise', async () => {
    await using host = await boot({
      before: (data) => writeFileSync(`${data}/window-place.json`, JSON.stringify({ ...BOUNDS, strip: true })),
    })
    host.electron.window.emit('ready-to-show')
    expect(host.electron.calls('window.setAlwaysOnTop')).toEqual([[true, 'floating']])
    host.electron.window.emit('close', { preventDefault: () => {} })
    expect(JSON.parse(readFileSync(`${host.folders.data}/window-place.json`, 'utf8'))).toMatchObject({
      ...BOUNDS,
      strip: true,
    })
  })
})

describe('at log-in', () => {
  const onPlatform = async (platform: NodeJS.Platform, work: () => Promise<void>) => {
    const own = Object.getOwnPropertyDescriptor(process, 'platform')!
    Object.defineProperty(process, 'platform', { ...own, value: platform })
    await work().finally(() => Object.defineProperty(process, 'platform', own))
  }

  test('Windows and macOS start it through their own settings, in the tray, with its data folder', async () => {
    await using host = await boot()
    for (const platform of ['win32', 'darwin'] as const)
      await onPlatform(platform, async () => {
        host.electron.opensAtLogin = false
        expect(await host.electron.ask('setStartAtLogin', { on: true })).toMatchObject({
          answer: { possible: true, on: true },
        })
        expect(await host.electron.ask('startAtLogin')).toMatchObject({ answer: { on: true } })
      })
    const [asked] = host.electron.calls('app.setLoginItemSettings').at(-1) as [{ args: string[] }]
    expect(asked).toMatchObject({ openAtLogin: true, path: process.execPath })
    expect(asked.args.at(-1)).toBe('--quietly')
  })

  test('Linux starts it through the desktop’s autostart folder', async () => {
    await using host = await boot()
    vi.stubEnv('XDG_CONFIG_HOME', `${host.folders.data}/config`)
    const file = `${host.folders.data}/config/autostart/nightshelf.desktop`
    try {
      expect(await host.electron.ask('startAtLogin')).toMatchObject({ answer: { on: false } })
      expect(await host.electron.ask('setStartAtLogin', { on: true })).toMatchObject({ answer: { on: true } })
      expect(readFileSync(file, 'utf8')).toMatch(/^Exec=".*" "--quietly"$/m)
      expect(await host.electron.ask('setStartAtLogin', { on: false })).toMatchObject({ answer: { on: false } })
      expect(existsSync(file)).toBe(false)
      writeFileSync(`${host.folders.data}/blocked`, '')
      vi.stubEnv('XDG_CONFIG_HOME', `${host.folders.data}/blocked`)
      expect(await host.electron.ask('setStartAtLogin', { on: true })).toMatchObject({
        refused: expect.stringContaining('could not be written'),
      })
    } finally {
      vi.unstubAllEnvs()
    }
  })

  test('it stays in the tray until somebody asks for the window', async () => {
    await using host = await boot({ args: ['--quietly'] })
    host.electron.window.emit('ready-to-show')
    expect(host.electron.calls('window.show')).toEqual([])
    host.electron.app.emit('second-instance')
    expect(host.electron.calls('window.show')).toHaveLength(1)
  })
})

describe('dawn', () => {
  test('tells once a night what would be lost, and leads to the flats', async () => {
    await using host = await boot()
    await engineReady(host.electron)
    const lacking = {
      now: '2026-11-21T05:30:00.000Z',
      night: '2026-11-20',
      sun: { dawnAt: '2026-11-21T05:20:00.000Z' },
      shortfall: [{ urgency: 'beforeTeardown', lights: 4 }],
    }
    await tellNight(host, lacking)
    await untilTrue(() => host.electron.notifications.length > 0)
    await tellNight(host, lacking)
    await tellNight(host, { ...lacking, notices: [notice('a', 'actNow')] })
    await untilTrue(() => host.electron.notifications.length > 1)
    const titles = host.electron.calls('new Notification').map(([options]) => (options as { title: string }).title)
    expect(titles).toEqual(['Dawn', 'Act now'])
    host.electron.notifications[0].emit('click')
    expect(host.electron.calls('window.loadURL').at(-1)).toEqual(['nightshelf://window/#/flats'])
  })
})

describe('the menus', () => {
  test('lead to every place by a key', async () => {
    await using host = await boot()
    type Item = { label: string; accelerator: string; click: () => void }
    const menus = host.electron.only<{ label?: string; submenu: Item[] }[]>('Menu.setApplicationMenu')
    const go = menus.find(({ label }) => label === 'Go')!.submenu
    expect(go.map(({ accelerator }) => accelerator)).toEqual([1, 2, 3, 4, 5].map((n) => `CommandOrControl+${n}`))
    go[1].click()
    expect(host.electron.calls('window.loadURL').at(-1)).toEqual(['nightshelf://window/#/shelf'])
  })

  test('have the usual roles, and tools for developers only outside a package', async () => {
    await using host = await boot()
    const text = JSON.stringify(host.electron.only('Menu.setApplicationMenu'))
    for (const role of ['fileMenu', 'editMenu', 'togglefullscreen', 'zoomIn', 'toggleDevTools'])
      expect(text).toContain(role)
  })
})
