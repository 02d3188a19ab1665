/** The channel of one request. Main and preload both get it from here. */
export const askChannel = (request: string): string => `ask:${request}`

/** The one channel on which events reach the page. */
export const EVENT_CHANNEL = 'event'
