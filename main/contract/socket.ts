/** The socket's fixed numbers. Apart from `wire.ts`, so that the window can use them without carrying the schemas. */

export const SOCKET_PATH = '/socket'

/** A larger message ends the connection (code 1009). */
export const MAX_MESSAGE_BYTES = 64 * 1024

export const CLOSED = { denied: 4403, tooMany: 4429, tooBig: 1009, hostStops: 1001 } as const
