import { app, Menu, type MenuItemConstructorOptions } from 'electron'

/** The usual menus with their usual keys; places of the window have keys of their own on the page. */
export function setUpMenu(): void {
  const mac: MenuItemConstructorOptions[] = process.platform === 'darwin' ? [{ role: 'appMenu' }] : []
  const developing: MenuItemConstructorOptions[] = app.isPackaged ? [] : [{ role: 'toggleDevTools' }]
  Menu.setApplicationMenu(
    Menu.buildFromTemplate([
      ...mac,
      { role: 'fileMenu' },
      { role: 'editMenu' },
      {
        label: 'View',
        submenu: [
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
}
