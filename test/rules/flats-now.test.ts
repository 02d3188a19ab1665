import { describe, expect, it } from 'vitest'
import type { FlatPoint } from '../../main/contract/index.ts'
import { flatsNow } from '../../main/rules/flats-now.ts'
import type { NightState } from '../../main/rules/state.ts'
import { lookAt } from '../../main/rules/view.ts'
import { aMaster } from '../match/samples.ts'
import { at, figures, SimulatedNight, usualShelf } from './simulated-night.ts'

const night = () => new SimulatedNight(usualShelf()).lights(5)
const flatsAt = (played: SimulatedNight, more: Partial<NightState> = {}) =>
  flatsNow(lookAt(played.stateAt(at('23:00'), more)))
const rulesAt = (played: SimulatedNight) => played.assessAt('23:00').notices.map(({ rule }) => rule)
const of = (points: readonly FlatPoint[], what: FlatPoint['what']) => points.find((one) => one.what === what)
const level = (median: number) => ({ figures: figures({ median }) })
const channel = (median: number) => ({ median, mean: median })

describe('flats while they are being shot', () => {
  it('are judged by the latest ones once the dimmer was turned, at the first frame that is right', () => {
    const bright = night().flats(12, level(48_000))
    expect(rulesAt(bright)).toEqual(['flat-level'])
    expect(flatsAt(bright)).toMatchObject([{ frames: 12, before: 0, level: { adu: 48_000, right: false } }])
    const dimmed = bright.flats(1, level(28_000))
    expect(rulesAt(dimmed)).toEqual([])
    const [flat] = flatsAt(dimmed)
    expect(flat).toMatchObject({ frames: 1, before: 12, level: { adu: 28_000, right: true } })
    expect(of(flat.points, 'level')).toMatchObject({ right: true, todo: null })
  })
  it('that were dimmed too far say at the next frame how much too far', () => {
    const [flat] = flatsAt(night().flats(12, level(48_000)).flats(1, level(14_000)))
    // 28 000 over 14 000; no pedestal is known.
    expect(of(flat.points, 'level')!.todo).toContain('Brighten the panel to 200 %, or expose 7.0 s')
  })
  it('ask for another balance only where the brightest channel holds the aim down, not where the light is too bright', () => {
    const lit = (R: number, G: number, B: number) => ({
      figures: figures({ median: G, channels: { R: channel(R), G: channel(G), B: channel(B) } }),
    })
    const brightest = (played: SimulatedNight) => of(flatsAt(played)[0].points, 'brightest')!.todo
    expect(brightest(night().flats(4, lit(40_000, 52_000, 40_000)))).toBe('At the level to aim for it is within that.')
    expect(brightest(night().flats(4, lit(64_000, 30_000, 12_000)))).toBe('Balance the colour of the light.')
  })
  it('that were clipped before the light was turned down are shot again, without dimming it further', () => {
    const bright = night().flats(4, { figures: figures({ median: 56_000, clippedHigh: 200_000 }) })
    const why = (played: SimulatedNight) =>
      played.assessAt('23:00').notices.find(({ rule }) => rule === 'flat-clipped')!.why
    expect(why(bright)).toContain('Dim the panel and shoot them again.')
    expect(why(bright.flats(3, level(28_000)))).toContain('The light was turned down since: shoot as many again')
  })
  it('say "so dim" where the exposure would fall below the floor', () => {
    const [flat] = flatsAt(night().flats(4, level(56_000)))
    expect(of(flat.points, 'level')!.todo).toBe('Dim the panel to 50 %, or expose 1.8 s: below the 3 s floor, so dim.')
  })
  it('count from the black level: 2 000 + 28 000 / 65 535 × 63 535 = 29 145', () => {
    const black = { figures: figures({ median: 2_000, max: 3_000 }) }
    const [flat] = flatsAt(night().darkFlats(3, black).flats(3, level(29_145)))
    expect(flat.level).toMatchObject({ right: true, pedestalAdu: 2_000 })
    expect(flat.level!.targetAdu).toBeCloseTo(29_145, -1)
    expect(flat.level!.ratio).toBeCloseTo(1, 3)
  })
  it('of 14 bits have a target of 14 bits: 28 000 / 65 535 × 16 383 = 7 000', () => {
    const [flat] = flatsAt(night().flats(3, { figures: figures({ median: 7_000, max: 16_000 }) }))
    expect(flat.level!.targetAdu).toBeCloseTo(7_000, -1)
    expect(flat.level!.right).toBe(true)
  })
  it('without light ask whether the cap is off', () => {
    const black = { figures: figures({ median: 2_000, max: 3_000 }) }
    const [flat] = flatsAt(night().darkFlats(3, black).flats(3, level(2_000)))
    expect(of(flat.points, 'level')!.todo).toBe('No light reached them: is the panel on, and the cap off?')
  })
  it('tell each channel against the target, and the balance against what is usual', () => {
    const channels = { R: channel(14_000), G: channel(28_000), B: channel(33_600) }
    const played = night().flats(4, { figures: figures({ channels }) })
    const usual = { rig: null, camera: 'Owl 26C', filter: 'dual-band', pedestal: 0 }
    const [flat] = flatsAt(played, { acceptedFlats: [{ ...usual, channels: { R: 1, G: 1, B: 1 } }] })
    expect(flat.channels.map(({ ofTarget }) => ofTarget)).toEqual([0.5, 1, 1.2])
    expect(of(flat.points, 'balance')).toMatchObject({
      right: false,
      text: 'Balance against green: red 0.50, blue 1.20; usual through this filter: red 1.00, blue 1.00.',
    })
  })
  it('tell clipping, drift, floor and cooler, each with what to do', () => {
    const warm = (i: number) => ({
      exposureS: 2,
      lightSource: 'panel' as const,
      sensorTempC: -7,
      figures: figures({ median: 28_000 * (1 + 0.02 * i), clippedHigh: 200_000 }),
    })
    const played = new SimulatedNight([...usualShelf(), aMaster({ id: 9, kind: 'darkFlat', exposureS: 2 })])
    const [flat] = flatsAt(played.lights(5).flats(4, warm))
    for (const what of ['clipping', 'drift', 'floor', 'cooler'] as const)
      expect(of(flat.points, what), what).toMatchObject({ right: false, todo: expect.stringMatching(/^[A-Z].*\.$/) })
    expect(of(flat.points, 'cooler')!.text).toBe('Sensor at −7.0 °C, set to −10.0 °C.')
  })
  it('of the sky may drift, those of a panel may not, however the level runs', () => {
    const fading = (lightSource: 'sky' | 'panel' | null) => (i: number) => ({
      ...level(30_000 * 0.985 ** i),
      lightSource,
    })
    expect(rulesAt(night().flats(20, fading('sky')))).toEqual([])
    // 1.5 % in 6.5 s is what dusk does: taken for the sky until somebody says otherwise.
    expect(rulesAt(night().flats(20, fading(null)))).toEqual([])
    expect(rulesAt(night().flats(20, fading('panel')))).toEqual(['flat-drift'])
  })
})
