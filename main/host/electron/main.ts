import { app, BrowserWindow } from 'electron'
import { built } from '../built.ts'

await app.whenReady()
const window = new BrowserWindow({
  webPreferences: { preload: built.preload, sandbox: true, contextIsolation: true, nodeIntegration: false },
})
window.setMenuBarVisibility(false)
