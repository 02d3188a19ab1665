import { app, session, type Event, type WebContents } from 'electron'
import { isOwnAddress } from './origin.ts'

/** The page copies settings to the clipboard, and asks for nothing else. */
const ALLOWED = 'clipboard-sanitized-write'

/** For every page that will ever exist here: it stays where it is, opens nothing, and holds no other page. */
export function guardContents(): void {
  app.on('web-contents-created', (_event: Event, contents: WebContents) => {
    const stay = (event: Event) => event.preventDefault()
    contents.on('will-navigate', stay)
    contents.on('will-frame-navigate', stay)
    contents.on('will-redirect', stay)
    contents.on('will-attach-webview', stay)
    contents.setWindowOpenHandler(() => ({ action: 'deny' }))
  })
}

/** Permissions, devices and the network: nothing is granted and nothing leaves the machine. */
export function guardSession(): void {
  const own = session.defaultSession
  own.setPermissionRequestHandler((_contents, permission, grant, { requestingUrl }) =>
    grant(permission === ALLOWED && isOwnAddress(requestingUrl)),
  )
  own.setPermissionCheckHandler(
    (_contents, permission, requestingOrigin) => permission === ALLOWED && isOwnAddress(requestingOrigin),
  )
  own.setDevicePermissionHandler(() => false)
  own.setSpellCheckerEnabled(false)
  own.webRequest.onBeforeRequest(
    { urls: ['http://*/*', 'https://*/*', 'ws://*/*', 'wss://*/*', 'file:///*'] },
    (_details, answer) => answer({ cancel: true }),
  )
  own.on('will-download', (event) => event.preventDefault())
}
