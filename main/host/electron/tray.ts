import { app, Menu, nativeImage, Tray, type NativeImage } from 'electron'
import { discPng } from './disc.ts'
import type { Night } from './night.ts'
import { trayState, type Shape } from './tray-state.ts'
import type { Window } from './window.ts'

/** The night in the corner of the desktop: a shape, a line, and the way back to the window. */
export function setUpTray(night: Night, window: Window): void {
  const tray = new Tray(picture('dotted'))
  tray.on('click', () => window.show())
  let last = ''
  night.follow((view) => {
    const { shape, line } = trayState(view)
    if (`${shape} ${line}` === last) return
    last = `${shape} ${line}`
    tray.setImage(picture(shape))
    tray.setToolTip(`Nightshelf: ${line}`)
    tray.setContextMenu(
      Menu.buildFromTemplate([
        { label: line, enabled: false },
        { type: 'separator' },
        { label: 'Show the window', click: () => window.show() },
        { label: 'Quit Nightshelf', click: () => app.quit() },
      ]),
    )
  })
}

function picture(shape: Shape): NativeImage {
  const image = nativeImage.createEmpty()
  for (const scaleFactor of [1, 2, 3])
    image.addRepresentation({ scaleFactor, buffer: Buffer.from(discPng(shape, 16 * scaleFactor)) })
  return image
}
