import type { Settings } from '../../contract/index.ts'
import { darkKey } from '../../frame/keys.ts'
import { priceMismatch, stackNoiseE, weighCost, type PricedMismatch } from '../../inspect/cost.ts'
import { darkSignal, type DarkLevelsAt } from '../../inspect/dark-signal.ts'
import type { PriceDifference } from '../../match/context.ts'
import { temperatureOf } from '../../match/tolerance.ts'
import { sayCount } from '../../match/wording.ts'
import { darkLevelsKept } from '../../../db/tables/dark-levels.ts'
import { lightLevels, statedGain } from '../../../db/tables/light-levels.ts'
import { sensorsKept } from '../../../db/tables/sensor-figures.ts'
import type { Core } from '../core.ts'
import { sensorFinder } from './sensor-memory.ts'

/**
 * Prices near matches from the library's own darks, the kept sensor figures and the lights in the log. What is read from the
 * database is read once a pricer; a pricer lives as long as the judge that it was made for.
 */
export function createPricer({ db, shelf }: Pick<Core, 'db' | 'shelf'>): PriceDifference {
  const kept = darkLevelsKept(db)
  if (kept.size === 0) return () => null
  const sensorOf = sensorFinder(sensorsKept(db))
  const byKey = new Map<string, DarkLevelsAt[]>()
  for (const master of shelf.masters) {
    const levels = kept.get(master.sha256)
    const tempC = temperatureOf(master)
    if (!levels || master.exposureS === null || tempC === null || master.kind === 'flat' || master.kind === 'bias')
      continue
    const key = darkKey(master)
    byKey.set(key, [...(byKey.get(key) ?? []), { ...levels, exposureS: master.exposureS, tempC }])
  }
  return (frame, master, field, tempC, wants) => {
    const key = darkKey(master)
    const levels = byKey.get(key)
    const [ownC, darkC] = [tempC ?? temperatureOf(frame), temperatureOf(master)]
    if (!levels || ownC === null || darkC === null || frame.exposureS === null || master.exposureS === null) return null
    const sensor = sensorOf(master)
    const ePerAdu = sensor?.ePerAdu.value ?? statedGain(db, key)
    const signal = darkSignal(levels, ownC, ePerAdu ?? 1)
    if (!signal) return null
    const light = { tempC: ownC, exposureS: frame.exposureS }
    const dark = field === 'exposureS' ? { ...light, exposureS: master.exposureS } : { ...light, tempC: darkC }
    const price = priceMismatch(signal, light, dark)
    const own = levels.find((one) => one.exposureS === master.exposureS)
    const noise =
      ePerAdu === null || !sensor || !own
        ? null
        : stackOf(frame, wants, sensor.temporalDarkNoiseE.value, own.medianAdu, ePerAdu)
    return {
      costAdu: price.costAdu,
      ...(ePerAdu !== null && { costE: price.costE }),
      text: noise ? sayPrice(price, field, noise) : sayBare(price, field),
    }
  }

  /** The noise that a stack of the lights, or flats, in the log has anyway, e-; null while none of them is measured. */
  function stackOf(
    frame: Settings,
    kind: 'light' | 'flat',
    readNoiseE: number,
    darkAdu: number,
    ePerAdu: number,
  ): Stack | null {
    const slackS = Math.max(0.01, frame.exposureS! * 0.001)
    const [leastS, mostS] = [frame.exposureS! - slackS, frame.exposureS! + slackS]
    const { frames, medianAdu } = lightLevels(db, kind, darkKey(frame), leastS, mostS)
    if (!frames || medianAdu === null) return null
    const lightE = Math.max(0, medianAdu - darkAdu) * ePerAdu
    return { frames, kind, noiseE: stackNoiseE(readNoiseE, lightE, frames) }
  }
}

interface Stack {
  frames: number
  kind: 'light' | 'flat'
  noiseE: number
}

/** Which doubling temperature the price rests on; an exposure's price rests on none. */
function sayDoubling({ doublingC, doublingFrom }: PricedMismatch, field: string): string {
  if (field === 'exposureS') return ''
  const every = `every ${doublingC.toFixed(1)} °C`
  return doublingFrom === 'measured'
    ? `dark current doubles ${every}, as measured`
    : `dark current taken to double ${every}, as published: not measured on this camera`
}

function sayPrice(price: PricedMismatch, field: string, { frames, kind, noiseE }: Stack): string {
  const why = [sayCount(frames, kind), sayDoubling(price, field)].filter(Boolean)
  return weighCost(price.costE, noiseE, why)
}

/** Where read noise or sky are not known there is nothing to hold it against. */
function sayBare(price: PricedMismatch, field: string): string {
  const { tail, glow } = price.costAdu
  const left = (what: string, adu: number) =>
    Math.abs(adu) < 0.05 ? [] : [`${what} ${Math.abs(adu).toFixed(1)} ADU too ${adu > 0 ? 'dark' : 'bright'}`]
  const parts = [...left('hot pixels', tail), ...left('the glow', glow)]
  if (parts.length === 0) return 'It would leave nothing that could be seen'
  const why = sayDoubling(price, field)
  return `It would leave ${parts.join(' and ')}${why && ` (${why})`}`
}
