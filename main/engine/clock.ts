/** Where time comes from. Everything in the engine asks here, so that a night can be played at speed. */
export interface Clock {
  now(): Date
}

export const systemClock: Clock = { now: () => new Date() }

/** UTC, ISO 8601, as it stands in the database. */
export const instant = (clock: Clock): string => clock.now().toISOString()
