import { app, BrowserWindow } from 'electron'
import { built } from '../built.ts'
import { PAGE_ADDRESS } from './origin.ts'
import { rememberPlace, rememberedPlace } from './place.ts'
import { makeStrip, STRIP_WIDTH, type Strip } from './strip.ts'

/** The one window. It may be hidden while the engine goes on; it is there until the program ends. */
export interface Window {
  /** Loads the page; the window is shown once it has something to show. */
  open(): void
  /** To the front, from wherever it was; at a place of the page (`#/tonight`) if one is named. */
  show(place?: string): void
  hide(): void
  send(channel: string, message: unknown): void
  /** Calls back each time the page is there and listens. */
  onPageReady(listener: () => void): void
  /** Asked before the window closes; what it was asked for does not happen if the listener prevents it. */
  onClose(listener: (event: { preventDefault(): void }) => void): void
  readonly strip: Strip
  /** For dialogs that belong to it. */
  readonly native: BrowserWindow
}

/** @param quietly started by the system: the window is there, and shown when somebody asks for it */
export function createWindow(dataDir: string, { quietly = false } = {}): Window {
  const remembered = rememberedPlace(dataDir)
  const native = new BrowserWindow({
    ...remembered.bounds,
    minWidth: STRIP_WIDTH,
    minHeight: 360,
    title: 'Nightshelf',
    // Dark from the first moment: a white flash costs a dark-adapted eye half an hour.
    backgroundColor: '#000000',
    show: false,
    webPreferences: {
      preload: built.preload,
      sandbox: true,
      contextIsolation: true,
      nodeIntegration: false,
      nodeIntegrationInWorker: false,
      nodeIntegrationInSubFrames: false,
      webSecurity: true,
      allowRunningInsecureContent: false,
      experimentalFeatures: false,
      webviewTag: false,
      spellcheck: false,
      devTools: !app.isPackaged,
    },
  })
  const show = () => {
    if (native.isMinimized()) native.restore()
    native.show()
    native.focus()
  }
  const strip = makeStrip(native)
  native.once('ready-to-show', () => {
    if (quietly) return
    if (remembered.strip) strip.toggle()
    else if (remembered.maximized) native.maximize()
    show()
  })
  const remember = () =>
    native.isDestroyed() ||
    rememberPlace(dataDir, { bounds: strip.usualPlace(), strip: strip.on, maximized: native.isMaximized() })
  native.on('close', remember)
  // A log-out ends the program without closing its window first.
  app.on('before-quit', remember)
  app.on('second-instance', show)
  app.on('activate', show)
  const { webContents } = native
  // A page that died is loaded anew; the engine, which does the work, never noticed.
  webContents.on('render-process-gone', () => webContents.reload())
  return {
    native,
    strip,
    open: () => void native.loadURL(PAGE_ADDRESS),
    show: (place) => {
      if (place) void native.loadURL(`${PAGE_ADDRESS}${place}`)
      show()
    },
    hide: () => native.hide(),
    send: (channel, message) => {
      if (!webContents.isDestroyed()) webContents.send(channel, message)
    },
    onPageReady: (listener) => void webContents.on('dom-ready', listener),
    onClose: (listener) => void native.on('close', listener),
  }
}
