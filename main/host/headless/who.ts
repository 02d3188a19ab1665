import type { IncomingMessage } from 'node:http'
import { networkInterfaces, hostname } from 'node:os'

/** The authorities (`host:port`) under which this host may be addressed; anything else is another site's name for it. */
export function ownAuthorities(port: number, lan: boolean): string[] {
  const names = ['127.0.0.1', 'localhost']
  if (lan) {
    for (const addresses of Object.values(networkInterfaces()))
      for (const { address, family } of addresses ?? [])
        names.push(family === 'IPv6' ? `[${address.split('%')[0]}]` : address)
    names.push(hostname().toLowerCase(), `${hostname().toLowerCase()}.local`)
  }
  return [...new Set(names)].map((name) => (port === 80 ? name : `${name}:${port}`))
}

/** The address of this machine that another one on its network would use; null where there is no network. */
export function lanAddress(): string | null {
  for (const addresses of Object.values(networkInterfaces()))
    for (const { address, family, internal } of addresses ?? []) if (family === 'IPv4' && !internal) return address
  return null
}

/** Tells this host's own pages from everybody else's, by the headers that a browser sets and a page cannot. */
export interface Doorkeeper {
  /** The Host header must be exactly one of ours: this is what stops a foreign name that resolves to us. */
  hostIsOurs(request: IncomingMessage): boolean
  /** The Origin must be there and be exactly that of the page that this very Host serves. */
  originIsOurs(request: IncomingMessage): boolean
  /** Whether a browser counts the address that it asked under as trustworthy: loopback, or https by a proxy. */
  isTrustworthy(request: IncomingMessage): boolean
  /** A request that a page of another site caused: never answered, not even a read. */
  isForeign(request: IncomingMessage): boolean
}

/**
 * @param authorities own `host:port` names at this moment (a laptop changes networks)
 * @param proxies origins (`https://name[:port]`) of the user's own proxy or tunnel, whose Host header is passed on
 */
export function doorkeeper(authorities: () => string[], proxies: string[]): Doorkeeper {
  const proxied = new Map(proxies.map((origin) => [new URL(origin).host, origin]))
  const own = ({ headers: { host = '' } }: IncomingMessage) =>
    proxied.get(host) ?? (authorities().includes(host) ? `http://${host}` : undefined)
  return {
    hostIsOurs: (request) => own(request) !== undefined,
    originIsOurs: (request) => request.headers.origin !== undefined && request.headers.origin === own(request),
    isTrustworthy: (request) => /^(https:|http:\/\/(127\.0\.0\.1|localhost)(:|$))/.test(own(request) ?? ''),
    isForeign: (request) => {
      const { headers } = request
      if (headers.origin !== undefined) return headers.origin !== own(request)
      const site = headers['sec-fetch-site'] ?? 'none'
      return site !== 'none' && site !== 'same-origin' && headers['sec-fetch-mode'] !== 'navigate'
    },
  }
}
