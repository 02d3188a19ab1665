import { app, Menu, type MenuItemConstructorOptions } from 'electron'
import type { Window } from './window.ts'

const places = ['Tonight', 'Shelf', 'Flats', 'Nights', 'Settings'] as const

/** The key of the strip, in the menus of window and tray alike. */
export const STRIP_KEY = 'CommandOrControl+Shift+S'

/** The usual menus with their usual keys, the places of the window, and the strip. */
export function setUpMenu(window: Window): void {
  const { strip } = window
  const mac: MenuItemConstructorOptions[] = process.platform === 'darwin' ? [{ role: 'appMenu' }] : []
  const developing: MenuItemConstructorOptions[] = app.isPackaged ? [] : [{ role: 'toggleDevTools' }]
  const build = () =>
    Menu.setApplicationMenu(
      Menu.buildFromTemplate([
        ...mac,
        { role: 'fileMenu' },
        { role: 'editMenu' },
        {
          label: 'Go',
          submenu: places.map((label, i) => ({
            label,
            accelerator: `CommandOrControl+${i + 1}`,
            click: () => window.show(`#/${label.toLowerCase()}`),
          })),
        },
        {
          label: 'View',
          submenu: [
            {
              label: 'Narrow strip above other windows',
              type: 'checkbox',
              checked: strip.on,
              accelerator: STRIP_KEY,
              click: () => strip.toggle(),
            },
            { type: 'separator' },
            { role: 'reload' },
            { type: 'separator' },
            { role: 'zoomIn' },
            { role: 'zoomOut' },
            { role: 'resetZoom' },
            { type: 'separator' },
            { role: 'togglefullscreen' },
            ...developing,
          ],
        },
        { role: 'windowMenu' },
      ]),
    )
  build()
  strip.follow(build)
}
