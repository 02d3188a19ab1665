import { Body, Observer, SearchAltitude, SearchRiseSet } from 'astronomy-engine'

export interface Place {
  latDeg: number
  /** East positive. */
  longDeg: number
}

/** Moments of one night, UTC ms; null where the Sun does not get there (a polar day, a white night). */
export interface SunTimes {
  sunsetMs: number | null
  duskMs: number | null
  dawnMs: number | null
  sunriseMs: number | null
  /** The Sun 18° below the horizon, in the evening and in the morning. */
  darkestFromMs: number | null
  darkestToMs: number | null
}

/** Lights end (and begin) with the Sun this far below the horizon, degrees: the end of nautical twilight. */
export const lightsEndDeg = -12
/** Below this the Sun lights the sky no more: the end of astronomical twilight, degrees. */
const darkestDeg = -18

const hourMs = 3_600_000
const [rise, set] = [1, -1]

/**
 * Sunset, −12° and −18° in the evening, −18°, −12° and sunrise in the morning. Computed by astronomy-engine, which its makers hold to within
 * a minute of arc; sunset and sunrise are of the upper limb with standard refraction, the rest of the centre without.
 * @param beginsMs local noon with which the night begins
 */
export function sunTimes({ latDeg, longDeg }: Place, beginsMs: number): SunTimes {
  const observer = new Observer(latDeg, longDeg, 0)
  const noon = new Date(beginsMs)
  // Longitude and time zone agree to within hours only, so the morning is looked for from what the evening found.
  const ms = (time: { date: Date } | null) => time?.date.getTime() ?? null
  const sunsetMs = ms(SearchRiseSet(Body.Sun, observer, set, noon, 1))
  const duskMs = ms(SearchAltitude(Body.Sun, observer, set, noon, 1, lightsEndDeg))
  const darkestFromMs = ms(SearchAltitude(Body.Sun, observer, set, noon, 1, darkestDeg))
  const evening = new Date(duskMs ?? sunsetMs ?? beginsMs + 12 * hourMs)
  return {
    sunsetMs,
    duskMs,
    dawnMs: duskMs === null ? null : ms(SearchAltitude(Body.Sun, observer, rise, evening, 1, lightsEndDeg)),
    sunriseMs: ms(SearchRiseSet(Body.Sun, observer, rise, evening, 1)),
    darkestFromMs,
    darkestToMs:
      darkestFromMs === null
        ? null
        : ms(SearchAltitude(Body.Sun, observer, rise, new Date(darkestFromMs), 1, darkestDeg)),
  }
}
