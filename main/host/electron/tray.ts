import { app, Menu, nativeImage, Tray, type NativeImage } from 'electron'
import { discPng } from './disc.ts'
import { STRIP_KEY } from './menu.ts'
import type { Night } from './night.ts'
import { trayState, type Shape, type TrayState } from './tray-state.ts'
import type { Window } from './window.ts'

/** The night in the corner of the desktop: a shape, a line, and the way back to the window. */
export function setUpTray(night: Night, window: Window): void {
  const tray = new Tray(picture('dotted'))
  const { strip } = window
  let shown: TrayState = { shape: 'dotted', line: '' }
  const buildMenu = () =>
    tray.setContextMenu(
      Menu.buildFromTemplate([
        { label: shown.line, enabled: false },
        { type: 'separator' },
        { label: 'Show the window', click: () => window.show() },
        {
          label: 'Narrow strip above other windows',
          type: 'checkbox',
          checked: strip.on,
          accelerator: STRIP_KEY,
          click: () => strip.toggle(),
        },
        { label: 'Quit Nightshelf', click: () => app.quit() },
      ]),
    )
  tray.on('click', () => window.show())
  strip.follow(buildMenu)
  night.follow((view) => {
    const state = trayState(view)
    if (state.shape === shown.shape && state.line === shown.line) return
    shown = state
    tray.setImage(picture(state.shape))
    tray.setToolTip(`Nightshelf: ${state.line}`)
    buildMenu()
  })
}

function picture(shape: Shape): NativeImage {
  const image = nativeImage.createEmpty()
  for (const scaleFactor of [1, 2, 3])
    image.addRepresentation({ scaleFactor, buffer: Buffer.from(discPng(shape, 16 * scaleFactor)) })
  return image
}
