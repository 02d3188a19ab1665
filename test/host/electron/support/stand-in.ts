import { fork } from 'node:child_process'
import { EventEmitter } from 'node:events'
import { fakeEngine } from '../../support/headless.ts'

/** One thing that was done to the stand-in: `app.enableSandbox()`, in the order in which it happened. */
export interface Done {
  what: string
  args: unknown[]
}

/**
 * A stand-in for the `electron` module that records what is done to it and lets a test play Electron's part. It does
 * nothing that Electron does; only the utility process is a real process, running the fake engine.
 */
export class StandIn {
  readonly done: Done[] = []
  readonly app = this.#emitter('app', {
    isPackaged: false,
    getAppPath: () => '/checkout',
    getLoginItemSettings: () => ({ openAtLogin: this.opensAtLogin }),
    setLoginItemSettings: ({ openAtLogin }: { openAtLogin: boolean }) => (this.opensAtLogin = openAtLogin),
    whenReady: async () => {},
    requestSingleInstanceLock: () => this.isFirst,
    quit: () => {
      const event = { defaultPrevented: false, preventDefault: () => (event.defaultPrevented = true) }
      this.app.emit('before-quit', event)
      if (!event.defaultPrevented) this.hasQuit()
    },
  })
  readonly powerMonitor = this.#emitter('powerMonitor', {})
  /** Resolves when `app.quit()` was not held up any more. */
  readonly quit: Promise<void>
  /** Hears everything that is done, at once. */
  noted: (done: Done) => void = () => {}
  /** The script that a utility process runs: the fake engine, unless the one asked for is wanted. */
  runsRealEngine = false
  isFirst = true
  opensAtLogin = false
  isMaximized = false
  /** What the next message box is answered with. */
  chosen = 0
  /** What the next dialog for a file or folder is answered with; null: put away. */
  chosenPath: string | null = null
  readonly windows: Emitter[] = []
  readonly handlers = new Map<string, (event: unknown, input: unknown) => Promise<unknown>>()
  readonly notifications: Emitter[] = []
  readonly engines: number[] = []
  respond: (request: Request) => Promise<Response> = () => Promise.reject(new Error('no scheme is served'))
  private hasQuit = () => {}

  constructor() {
    this.quit = new Promise((resolve) => (this.hasQuit = resolve))
  }

  /** What was done under this name, oldest first. */
  calls(what: string): unknown[][] {
    return this.done.filter((done) => done.what === what).map((done) => done.args)
  }

  /** The only call of that name, its first argument. */
  only<T>(what: string): T {
    const calls = this.calls(what)
    if (calls.length !== 1) throw new Error(`${what} was called ${calls.length} times`)
    return calls[0][0] as T
  }

  get window(): Emitter {
    return this.windows[0]
  }

  get page(): Emitter {
    return this.window.webContents as Emitter
  }

  /** Asks as the preload does, from a frame (by default the page's own main frame). */
  ask(request: string, input: unknown = {}, frame: unknown = { url: 'nightshelf://window/index.html', parent: null }) {
    const handler = this.handlers.get(`ask:${request}`)
    if (!handler) return Promise.reject(new Error(`no handler registered for ask:${request}`))
    return handler({ senderFrame: frame }, input)
  }

  /** What `import … from 'electron'` finds. */
  module() {
    return {
      app: this.app,
      // Called with `new`: a constructor that returns an object gives that object.
      BrowserWindow: constructor((options) => this.#openWindow(options)),
      Notification: Object.assign(
        constructor((options) => this.#notify(options)),
        { isSupported: () => true },
      ),
      Tray: constructor((image) => {
        this.#note('new Tray', [image])
        return this.#emitter('tray', {})
      }),
      Menu: {
        buildFromTemplate: (template: unknown) => template,
        setApplicationMenu: this.#spy('Menu.setApplicationMenu'),
      },
      nativeImage: { createEmpty: () => this.#emitter('image', {}) },
      dialog: this.#emitter('dialog', {
        showMessageBox: async () => ({ response: this.chosen }),
        showOpenDialog: async () => ({
          canceled: !this.chosenPath,
          filePaths: this.chosenPath ? [this.chosenPath] : [],
        }),
        showSaveDialog: async () => ({ canceled: !this.chosenPath, filePath: this.chosenPath ?? '' }),
      }),
      powerMonitor: this.powerMonitor,
      shell: this.#emitter('shell', {}),
      screen: { getDisplayMatching: () => ({ workArea: { x: 0, y: 0, width: 1920, height: 1080 } }) },
      session: { defaultSession: this.#emitter('session', { webRequest: this.#emitter('webRequest', {}) }) },
      protocol: this.#emitter('protocol', {
        handle: (_scheme: string, respond: StandIn['respond']) => void (this.respond = respond),
      }),
      ipcMain: { handle: (channel: string, handler: never) => void this.handlers.set(channel, handler) },
      utilityProcess: {
        fork: (script: string, args: string[], options: unknown) => this.#fork(script, args, options),
      },
    }
  }

  #openWindow(options: unknown): Emitter {
    const webContents = this.#emitter('webContents', { isDestroyed: () => false })
    const window = this.#emitter('window', {
      webContents,
      isMinimized: () => false,
      isMaximized: () => this.isMaximized,
      isFullScreen: () => false,
      isDestroyed: () => false,
      getNormalBounds: () => BOUNDS,
    })
    this.#note('new BrowserWindow', [options])
    this.windows.push(window)
    this.app.emit('web-contents-created', {}, webContents)
    return window
  }

  #notify(options: unknown): Emitter {
    this.#note('new Notification', [options])
    const notification = this.#emitter('notification', {})
    this.notifications.push(notification)
    return notification
  }

  #fork(script: string, args: string[], options: unknown) {
    this.#note('utilityProcess.fork', [script, args, options])
    const child = fork(this.runsRealEngine ? script : fakeEngine, args)
    this.engines.push(child.pid!)
    const outside = new EventEmitter()
    child.on('message', (message) => outside.emit('message', message))
    child.on('exit', (code) => outside.emit('exit', code))
    return Object.assign(outside, { pid: child.pid, postMessage: (message: never) => void child.send(message) })
  }

  #note(what: string, args: unknown[]): void {
    this.done.push({ what, args })
    this.noted({ what, args })
  }

  #spy(what: string) {
    return (...args: unknown[]) => this.#note(what, args)
  }

  /** An object that emits what a test plays, and records every method that it is not given. */
  #emitter<T extends object>(name: string, methods: T): Emitter & T {
    return new Proxy(Object.assign(new EventEmitter(), methods), {
      get: (target, key: string) => {
        if (key in target) {
          const value = target[key as never] as unknown
          const isOwn = key in methods && typeof value === 'function'
          if (!isOwn) return typeof value === 'function' ? (value as () => void).bind(target) : value
          return (...args: unknown[]) => {
            this.#note(`${name}.${key}`, args)
            return (value as (...args: unknown[]) => unknown)(...args)
          }
        }
        return typeof key === 'symbol' || key === 'then' ? undefined : this.#spy(`${name}.${key}`)
      },
    }) as unknown as Emitter & T
  }
}

function constructor(make: (argument: unknown) => Emitter): new (argument: unknown) => Emitter {
  return function (argument: unknown) {
    return make(argument)
  } as unknown as new (argument: unknown) => Emitter
}

export const BOUNDS = { x: 10, y: 20, width: 900, height: 700 }

export type Emitter = EventEmitter & Record<string, unknown>
