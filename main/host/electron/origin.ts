import type { WebFrameMain } from 'electron'

export const SCHEME = 'nightshelf'
const HOST = 'window'
export const PAGE_ADDRESS = `${SCHEME}://${HOST}/`

/** True for an address of this program's own page. */
export function isOwnAddress(address: string): boolean {
  if (!URL.canParse(address)) return false
  const { protocol, host, username, password } = new URL(address)
  return protocol === `${SCHEME}:` && host === HOST && username === '' && password === ''
}

/** The one place where a sender is judged: the main frame of our own page and nothing else. */
export function isOwnPage(frame: WebFrameMain | null): boolean {
  return frame !== null && frame.parent === null && isOwnAddress(frame.url)
}
