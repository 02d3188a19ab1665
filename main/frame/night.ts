const HOUR = 3_600_000
const DAY = 24 * HOUR
const QUARTER = HOUR / 4

export interface NightQuestion {
  /** UTC start of exposure, ms since 1970 (a frame without a date: its file's last modification). */
  atMs: number
  /** The same moment by the clock on the wall at the camera (DATE-LOC), as ms that read as UTC; null if unknown. */
  localMs?: number | null
  /** East positive, degrees; null if unknown. */
  siteLongDeg?: number | null
  /** IANA name, used where neither of the others is known. */
  zone: string
}

/**
 * The night of a moment: local noon to the next local noon, named by the date on which it began ("2026-11-20").
 * Local is, in this order: the clock on the wall (DATE-LOC), the mean Sun at the site's longitude, the zone given.
 * A clock on the wall that is over four hours off the Sun at its site is none (a computer left on UTC), and passed over.
 */
export function nightOf({ atMs, localMs = null, siteLongDeg = null, zone }: NightQuestion): string {
  return dateOf(atMs + localOffsetMs(atMs, localMs, siteLongDeg, zone) - 12 * HOUR)
}

/** The UTC instants (ms) at which a night of this site or zone begins and ends: its noon and the next. */
export function nightBounds(
  night: string,
  { siteLongDeg = null, zone }: { siteLongDeg?: number | null; zone: string },
): { beginsMs: number; endsMs: number } {
  const noon = (shiftDays: number) => {
    const wall = Date.parse(`${night}T12:00:00Z`) + shiftDays * 24 * HOUR
    // The offset is looked up at the instant itself, so a noon after the clocks changed is that day's noon.
    const guess = wall - localOffsetMs(wall, null, siteLongDeg, zone)
    return wall - localOffsetMs(guess, null, siteLongDeg, zone)
  }
  return { beginsMs: noon(0), endsMs: noon(1) }
}

function localOffsetMs(atMs: number, localMs: number | null, longDeg: number | null, zone: string): number {
  const sun = longDeg === null ? null : (longDeg / 15) * HOUR
  if (localMs !== null) {
    const wall = localMs - atMs
    const possible = wall >= -13 * HOUR && wall <= 15 * HOUR
    if (possible && (sun === null || Math.abs(halfDay(wall - sun)) <= 4 * HOUR)) return wall
  }
  if (sun === null) return zoneOffsetMs(atMs, zone)
  // Longitude tells the hour but not the date where the date line is bent: the zone says on which side of it the clocks are,
  // if it is the zone of that place at all.
  const days = (zoneOffsetMs(atMs, zone) - sun) / (24 * HOUR)
  const wholeDays = Math.round(days)
  return Math.abs(days - wholeDays) <= 4 / 24 ? sun + wholeDays * 24 * HOUR : sun
}

/** Brings a difference of clocks into −12 h … +12 h. */
const halfDay = (ms: number) => ms - Math.round(ms / (24 * HOUR)) * 24 * HOUR

const dateOf = (ms: number) => new Date(ms).toISOString().slice(0, 10)

const clocks = new Map<string, Intl.DateTimeFormat | null>()
const offsets = new Map<string, number>()

/** Zone time less UTC, ms, at this instant. An unknown zone counts as UTC: the host's own zone is the caller's to name. */
export function zoneOffsetMs(atMs: number, zone: string): number {
  // Asking Intl costs more than reading a whole header. On most days one answer does for all of it; clocks change on quarter hours.
  const begins = Math.floor(atMs / DAY) * DAY
  const offset = offsetFrom(begins, zone)
  return offset === offsetFrom(begins + DAY, zone) ? offset : offsetFrom(Math.floor(atMs / QUARTER) * QUARTER, zone)
}

function offsetFrom(atMs: number, zone: string): number {
  const key = `${zone}\u0000${atMs}`
  const known = offsets.get(key)
  if (known !== undefined) return known
  const offset = askOffset(atMs, zone)
  if (offsets.size > 20_000) offsets.clear()
  offsets.set(key, offset)
  return offset
}

function askOffset(atMs: number, zone: string): number {
  const clock = clockOf(zone)
  if (!clock) return 0
  const part: Record<string, number> = {}
  for (const { type, value } of clock.formatToParts(atMs)) part[type] = Number(value)
  return Date.UTC(part.year, part.month - 1, part.day, part.hour, part.minute, part.second) - atMs
}

function clockOf(zone: string): Intl.DateTimeFormat | null {
  let clock = clocks.get(zone)
  if (clock === undefined) {
    try {
      clock = new Intl.DateTimeFormat('en-US', {
        timeZone: zone,
        hourCycle: 'h23',
        year: 'numeric',
        month: 'numeric',
        day: 'numeric',
        hour: 'numeric',
        minute: 'numeric',
        second: 'numeric',
      })
    } catch {
      clock = null
    }
    clocks.set(zone, clock)
  }
  return clock
}
