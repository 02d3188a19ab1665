import { describe, expect, it } from 'vitest'
import { adviseLevel, aimOf, modelLevels, type FlatLevel } from '../../main/rules/flat-advice.ts'
import { aMaster } from '../match/samples.ts'
import { figures, SimulatedNight, usualShelf } from './simulated-night.ts'

const pedestalAdu = 1_900
const fullAdu = 65_535
const limits = { targetAdu: 29_000, linearTopAdu: 0.7 * fullAdu, floorS: 3 }

/** A flat of a light that gives `rate` ADU a second; its brightest colour `share` times the median's light. */
const flat = (exposureS: number | null, rate: number, share = 1, pedestal = pedestalAdu): FlatLevel => {
  const clip = (level: number) => Math.min(fullAdu, level)
  const net = rate * (exposureS ?? 1)
  return { exposureS, medianAdu: clip(pedestal + net), brightestAdu: clip(pedestal + share * net) }
}

/** The advice to the last of these flats. */
function advise(...flats: FlatLevel[]): string {
  const now = flats.at(-1)!
  const model = modelLevels(flats, now, { pedestalAdu, fullAdu })
  return adviseLevel(now, model, aimOf(model, limits), limits)
}

describe('advice to flats', () => {
  // 29 000 − 1 900 = 27 100 ADU are wanted.
  it.each<[string, FlatLevel[], string]>([
    ['one exposure, too dim', [flat(4, 2_710)], 'brighten the panel to 250 %, or expose 10.0 s'],
    ['one exposure, too bright', [flat(6, 7_000)], 'dim the panel to 65 %, or expose 3.9 s'],
    ['below the floor', [flat(3, 13_100)], 'dim the panel to 69 %, or expose 2.1 s: below the 3 s floor, so dim'],
    ['shot below the floor, bright', [flat(1, 27_100)], 'expose 3 s, with the panel at 33 %'],
    ['shot below the floor, dim', [flat(2, 2_710)], 'expose 10.0 s'],
    [
      'two exposures whose own pedestal is 500 higher',
      [flat(3, 2_000, 1, 2_400), flat(6, 2_000, 1, 2_400)],
      'brighten the panel to 222 %, or expose 13.3 s',
    ],
    [
      'panel turned between two exposures',
      [flat(3, 9_000), flat(4, 2_710)],
      'brighten the panel to 250 %, or expose 10.0 s',
    ],
    [
      'clipped, with an unclipped trial pair',
      [flat(3, 5_420), flat(4, 5_420), flat(20, 5_420)],
      'dim the panel to 25 %, or expose 5.0 s',
    ],
    ['clipped, alone', [flat(10, 20_000)], 'dim the panel to at most 43 %, or expose at most 4.3 s'],
    ['exposure unknown', [flat(null, 13_550)], 'brighten the panel to 200 %'],
    ['dark', [flat(4, 0)], 'no light reached them: is the panel on, and the cap off?'],
  ])('%s', (_, flats, text) => expect(advise(...flats)).toBe(text))

  it('never lets the brightest channel leave the linear range, whatever the balance', () => {
    for (let share = 1; share < 8; share += 0.13)
      for (const rate of [150, 900, 2_713, 6_001]) {
        const text = advise(flat(4, rate, share))
        // Of a clipped channel nobody knows how bright it is: an upper bound is said.
        expect(text.includes('at most')).toBe(flat(4, rate, share).brightestAdu >= 0.97 * fullAdu)
        if (text.includes('at most')) continue
        const exposure = Number(/expose ([\d.]+) s/.exec(text)![1])
        const percent = Number(/to (\d+) %/.exec(text)![1])
        expect(flat(exposure, rate, share).brightestAdu).toBeLessThanOrEqual(limits.linearTopAdu + 1e-6)
        expect(flat(4, (rate * percent) / 100, share).brightestAdu).toBeLessThanOrEqual(limits.linearTopAdu + 1e-6)
      }
  })

  it('takes the line from the runs of one session, and says so', () => {
    const night = new SimulatedNight([...usualShelf(), aMaster({ id: 9, kind: 'darkFlat', exposureS: 4 })])
    const of = (exposureS: number) => ({ exposureS, figures: figures({ median: 2_000 + 2_000 * exposureS }) })
    const { notices } = night.lights(5).flats(1, of(8)).flats(10, of(4)).assessAt('19:30')
    const notice = notices.find((n) => n.rule === 'flat-level')!
    expect(notice.text).toMatch(/^dual-band flats at 10 000 ADU: brighten the panel to 3\d\d %, or expose 1\d\.\d s$/)
    expect(notice.why).toContain('Reckoned from 11 flats at several exposures.')
  })
  it('aims lower where the brightest channel leaves no room for the target, and then is quiet', () => {
    const night = new SimulatedNight(usualShelf())
    const at = (median: number) => {
      const channel = (level: number) => ({ median: level, mean: level })
      return figures({ median, channels: { R: channel(3 * median), G: channel(median), B: channel(median) } as never })
    }
    const { notices } = night
      .lights(5)
      .flats(25, { figures: at(14_500) })
      .assessAt('19:30')
    expect(notices.filter((n) => n.rule === 'flat-level')).toEqual([])
  })
})
