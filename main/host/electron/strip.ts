import { screen, type BrowserWindow, type Rectangle } from 'electron'

/** As narrow as the window can be read: beside the capture software on one screen. */
export const STRIP_WIDTH = 480

/** The window as a strip at the right edge of its screen, above all others. */
export interface Strip {
  readonly on: boolean
  toggle(): void
  /** Where the window is when it is no strip. */
  usualPlace(): Rectangle
  /** Calls back whenever it became one or the other. */
  follow(listener: () => void): void
}

export function makeStrip(native: BrowserWindow): Strip {
  const listeners: (() => void)[] = []
  let before: Rectangle | null = null
  const become = () => {
    before = native.getNormalBounds()
    if (native.isFullScreen()) native.setFullScreen(false)
    if (native.isMaximized()) native.unmaximize()
    const { workArea } = screen.getDisplayMatching(before)
    native.setAlwaysOnTop(true, 'floating')
    native.setBounds({
      x: workArea.x + workArea.width - STRIP_WIDTH,
      y: workArea.y,
      width: STRIP_WIDTH,
      height: workArea.height,
    })
  }
  const comeBack = (place: Rectangle) => {
    before = null
    native.setAlwaysOnTop(false)
    native.setBounds(place)
  }
  return {
    get on() {
      return before !== null
    },
    toggle: () => {
      if (before) comeBack(before)
      else become()
      native.show()
      for (const listener of listeners) listener()
    },
    usualPlace: () => before ?? native.getNormalBounds(),
    follow: (listener) => void listeners.push(listener),
  }
}
