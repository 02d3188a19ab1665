import { join } from 'node:path'
import { describe, expect, it, onTestFinished } from 'vitest'
import { expectedAdu } from '../../../main/demo/exposure.ts'
import { electronsPerAdu, glowE, heron11c, readNoiseE } from '../../../main/demo/sensor.ts'
import { openEngine } from '../../../main/engine/open.ts'
import { StillClock } from '../engines.ts'
import { createScene, type Scene } from './scene.ts'

const PER_ADU = electronsPerAdu(heron11c, 100)

async function engineOf(scene: Scene) {
  const engine = await openEngine({ dataDir: join(scene.folder, 'data'), clock: new StillClock(), zone: 'UTC' })
  onTestFinished(() => engine.close())
  return engine
}

/** Median of a dark of 300 s without noise, e-. */
function truth({ studio }: Scene, sensorTempC: number): number {
  const exposure = { exposureS: 300, sensorTempC, gain: 100, offset: 30, light: null }
  const sorted = expectedAdu(studio.sensor, exposure).sort()
  return sorted[sorted.length >> 1] * PER_ADU
}

describe('the cost of a near match', () => {
  it('is told from the dark masters: the mean by the published doubling, the glow between two exposures, as planted', async () => {
    const scene = createScene()
    const paths = [120, 300, 600].map((exposureS) =>
      scene.master({ file: `dark-${exposureS}.fits`, kind: 'dark', exposureS, frames: 400 }),
    )
    const engine = await engineOf(scene)
    await engine.ask('addMasters', { paths, answers: {}, copy: false })
    scene.light('warmer', { exposureS: 300, tempC: -8.5 })
    scene.light('longer', { exposureS: 310, tempC: -10 })
    const frames = engine.framesOf(await engine.log([join(scene.folder, 'capture')]))
    const verdictOf = async (name: string) => {
      const { id } = frames.find((frame) => frame.path.includes(name))!
      return (await engine.ask('frame', { id })).verdicts.dark!
    }
    expect((await verdictOf('warmer')).differences[0]).not.toHaveProperty('costAdu')
    await engine.ask('measureSensors', {})

    const warmer = await verdictOf('warmer')
    expect(warmer.verdict).toBe('near')
    const [temperature] = warmer.differences
    expect(temperature.field).toBe('sensorTempC')
    // What the sensor would give without noise. Its glow, which reaches everywhere and doubles over 18 °C, is part of the mean.
    const planted = truth(scene, -10) - truth(scene, -8.5)
    expect(temperature.costE!.mean).toBeLessThan(0)
    expect(Math.abs(temperature.costE!.mean / planted - 1)).toBeLessThan(0.5)
    expect(temperature.costE!.tail).toBeLessThan(temperature.costE!.mean)
    expect(temperature.costAdu!.tail * PER_ADU).toBeCloseTo(temperature.costE!.tail, 1)
    expect(warmer.text).toMatch(/as published: not measured on this camera\)$/)

    const [exposure] = (await verdictOf('longer')).differences
    expect(exposure.field).toBe('exposureS')
    // On the line through 300 s and 120 s (the nearest two), not on the planted curve: within a factor of two of it.
    const glow = glowE(heron11c, 300, -10) - glowE(heron11c, 310, -10)
    expect(exposure.costE!.glow / glow).toBeGreaterThan(0.4)
    expect(exposure.costE!.glow / glow).toBeLessThan(2.5)
  })

  it('uses the doubling temperature that was measured where darks lie far enough apart, and says so', async () => {
    const scene = createScene()
    const paths = [-10, -5, 0].flatMap((tempC) =>
      [120, 300].map((exposureS) =>
        scene.master({ file: `dark${tempC}-${exposureS}.fits`, kind: 'dark', exposureS, tempC, frames: 100 }),
      ),
    )
    const engine = await engineOf(scene)
    await engine.ask('addMasters', { paths, answers: {}, copy: false })
    await engine.ask('measureSensors', {})
    scene.light('light', { exposureS: 300, tempC: -8.5 })
    const [{ id }] = engine.framesOf(await engine.log([join(scene.folder, 'capture')]))
    const { text } = (await engine.ask('frame', { id })).verdicts.dark!
    const doubling = Number(/doubles every ([\d.]+) °C, as measured/.exec(text)![1])
    // Hot pixels were planted with 5.5 to 7.5 °C.
    expect(doubling).toBeGreaterThan(5.5)
    expect(doubling).toBeLessThan(7.5)
  })
})

describe('the cost of a dark flat of another length', () => {
  it('is told like a dark’s, against the noise of a stack of the flats, to frame and night alike', async () => {
    const scene = createScene()
    const paths = [
      scene.master({ file: 'dark-flat.fits', kind: 'darkFlat', exposureS: 4.8, tempC: -9.2, frames: 100 }),
      ...[120, 300].map((exposureS) =>
        scene.master({ file: `dark-${exposureS}.fits`, kind: 'dark', exposureS, tempC: -9.2, frames: 100 }),
      ),
    ]
    const engine = await engineOf(scene)
    await engine.ask('addMasters', { paths, answers: {}, copy: false })
    // Two flats and two darks of one exposure tell gain and noise; the others wait for their dark flats.
    for (const n of [1, 2]) scene.flat(`sensor${n}`, { exposureS: 6, filter: 'luminance' })
    for (const n of [1, 2]) scene.dark(`sensor-dark${n}`, { exposureS: 6 })
    for (const n of [1, 2, 3]) scene.flat(`waiting${n}`, { exposureS: 4.5, filter: 'dual-band' })
    const report = await engine.log([join(scene.folder, 'capture')])
    const frames = engine.framesOf(report)
    await engine.measure(frames.map(({ id }) => id))
    await engine.ask('measureSensors', {})

    const { id } = frames.find(({ path }) => path.includes('waiting1'))!
    const darkFlat = (await engine.ask('frame', { id })).verdicts.darkFlat!
    expect(darkFlat.verdict).toBe('near')
    const cost = (field: string) => darkFlat.differences.find((one) => one.field === field)!
    expect([cost('exposureS').light, cost('exposureS').master]).toEqual([4.5, 4.8])
    // Longer and warmer than the flats: too much is taken away, by a tenth of an electron; hot pixels by more.
    for (const field of ['exposureS', 'sensorTempC']) {
      expect(cost(field).costE!.tail).toBeGreaterThan(0)
      expect(cost(field).costE!.mean).toBeLessThan(0.2)
      expect(cost(field).costAdu!.tail * PER_ADU).toBeCloseTo(cost(field).costE!.tail, 1)
    }
    expect(darkFlat.text).toMatch(/^4\.8 s, the flat has 4\.5 s|^−9\.2 °C, the flat has −10\.0 °C/)
    expect(darkFlat.text).toMatch(/harmless \(3 flats\)/)
    expect(darkFlat.text).toMatch(/3 flats; dark current taken to double every \d\.\d °C, as published/)
    const { runs, shortfall } = await engine.ask('tonight', {})
    expect(runs.find((run) => run.frameIds.includes(id))!.verdicts.darkFlat!.text).toBe(darkFlat.text)
    expect(shortfall.find((row) => row.kind === 'darkFlat' && row.settings.exposureS === 4.5)!.reason).toContain(
      'harmless',
    )
  })
})

describe('sensor figures', () => {
  it('come from the log, as the simulated sensor was made, and are kept with their date and sources', async () => {
    const scene = createScene()
    for (const n of [1, 2]) {
      scene.flat(`flat${n}`, { exposureS: 6, filter: 'luminance' })
      scene.dark(`dark${n}`, { exposureS: 6 })
    }
    const engine = await engineOf(scene)
    await engine.log([join(scene.folder, 'capture')])
    const { measured, lacking } = await engine.ask('measureSensors', {})
    expect(lacking).toEqual([])
    expect(measured).toHaveLength(1)
    const [figures] = measured
    expect(figures).toMatchObject({
      camera: 'Heron 11C',
      gain: 100,
      offset: 30,
      binning: '1x1',
      measuredAt: '2026-11-20T23:00:00.000Z',
    })
    expect(figures.sources).toHaveLength(4)
    expect(Math.abs(figures.ePerAdu.value / PER_ADU - 1)).toBeLessThan(0.02)
    expect(figures.ePerAdu.ci95[0]).toBeLessThan(PER_ADU)
    expect(figures.ePerAdu.ci95[1]).toBeGreaterThan(PER_ADU)
    expect(Math.abs(figures.temporalDarkNoiseE.value / readNoiseE(heron11c, 100) - 1)).toBeLessThan(0.15)
    expect((await engine.ask('sensorFigures', {})).sensors).toEqual(measured)
  })

  it('hold dark current and doubling temperature from dark masters of several exposures and temperatures', async () => {
    const scene = createScene()
    for (const n of [1, 2]) {
      scene.flat(`flat${n}`, { exposureS: 6, filter: 'luminance' })
      scene.dark(`dark${n}`, { exposureS: 6 })
    }
    const paths = [-10, -5, 0].flatMap((tempC) =>
      [60, 300, 600].map((exposureS) =>
        scene.master({ file: `dark${tempC}-${exposureS}.fits`, kind: 'dark', exposureS, tempC, frames: 100 }),
      ),
    )
    const engine = await engineOf(scene)
    await engine.ask('addMasters', { paths, answers: {}, copy: false })
    await engine.log([join(scene.folder, 'capture')])
    await engine.ask('measureSensors', {})
    const [figures] = (await engine.ask('sensorFigures', {})).sensors
    // Planted: hot pixels of 5.5 to 7.5 °C; the median pixel gathers dark current and a little of the glow, which fades with time.
    const { value, ci95 } = figures.doublingC!
    expect(value).toBeGreaterThan(5.5)
    expect(value).toBeLessThan(7.5)
    expect(ci95![0]).toBeLessThan(value)
    expect(ci95![1] - value).toBeLessThan(1)
    expect(figures.darkCurrentAtC).toBeCloseTo(-10, 1)
    const rate = figures.darkCurrentEPerS!
    const medianAt = (exposureS: number) => {
      const exposure = { exposureS, sensorTempC: -10, gain: 100, offset: 30, light: null }
      const sorted = expectedAdu(scene.studio.sensor, exposure).sort()
      return sorted[sorted.length >> 1] * PER_ADU
    }
    const planted = (medianAt(600) - medianAt(60)) / 540
    expect(rate.value / planted).toBeGreaterThan(0.8)
    expect(rate.value / planted).toBeLessThan(1.2)
    expect(rate.ci95[0]).toBeLessThan(planted)
    expect(rate.ci95[1]).toBeGreaterThan(planted)
    expect(figures.sources).toHaveLength(4 + 9)
  })

  it('need no saturated flats for gain and noise, and claim neither a full well nor a straight line that was not seen', async () => {
    const scene = createScene()
    // A dimmer was turned between the exposures: levels that follow none.
    for (const [exposureS, levelAdu] of [
      [1, 12_000],
      [2, 30_000],
      [3, 20_000],
    ])
      // prettier-ignore
      for (const n of [1, 2]) {
        scene.flat(`flat${exposureS}-${n}`, { exposureS, filter: 'luminance', panel: { levelAdu } })
        scene.dark(`dark${exposureS}-${n}`, { exposureS })
      }
    const engine = await engineOf(scene)
    const logged = engine.framesOf(await engine.log([join(scene.folder, 'capture')]))
    await engine.measure(logged.map(({ id }) => id))
    const { measured, lacking } = await engine.ask('measureSensors', {})
    expect(lacking).toEqual([])
    expect(Math.abs(measured[0].ePerAdu.value / PER_ADU - 1)).toBeLessThan(0.02)
    expect(measured[0]).toMatchObject({ saturationE: null, linearityErrorPercent: null })
  })

  it('of flats from faint to saturated hold the full well that was seen and how straight the response is', async () => {
    const scene = createScene()
    for (const exposureS of [0.5, 1, 2, 3, 4, 5, 8])
      for (const n of [1, 2]) {
        const panel = { levelAdu: 520 + 11_000 * exposureS, tiltX: 0, tiltY: 0 }
        scene.flat(`flat${exposureS}-${n}`, { exposureS, filter: 'luminance', panel })
        scene.dark(`dark${exposureS}-${n}`, { exposureS })
      }
    const engine = await engineOf(scene)
    const logged = engine.framesOf(await engine.log([join(scene.folder, 'capture')]))
    await engine.measure(logged.map(({ id }) => id))
    const { measured } = await engine.ask('measureSensors', {})
    const [{ saturationE, linearityErrorPercent: off, ePerAdu }] = measured
    expect(Math.abs(ePerAdu.value / PER_ADU - 1)).toBeLessThan(0.03)
    // Its converter ends at 16 383 steps of 4 ADU, before the pixels are full.
    const converterEndsE = (65_532 - 520) * PER_ADU
    expect(saturationE! / converterEndsE).toBeGreaterThan(0.6)
    expect(saturationE! / converterEndsE).toBeLessThanOrEqual(1)
    expect(Math.max(-off!.min, off!.max)).toBeLessThan(2)
  })

  it('tells how far it is, and ends between two settings when it is stopped: what was measured stays', async () => {
    const scene = createScene()
    for (const gain of [0, 100])
      for (const n of [1, 2]) {
        scene.flat(`flat${gain}-${n}`, { exposureS: 6, gain, filter: 'luminance' })
        scene.dark(`dark${gain}-${n}`, { exposureS: 6, gain })
      }
    const engine = await engineOf(scene)
    await engine.log([join(scene.folder, 'capture')])
    expect(await engine.ask('stopMeasuring', {})).toEqual({ stopped: false })
    const course: string[] = []
    engine.listen((event) => {
      if (event.event !== 'progress' || event.job !== 'sensors') return
      course.push(`${event.state} ${event.done}/${event.total}`)
      if (event.done === 0 && event.total === 2) void engine.ask('stopMeasuring', {})
    })
    const { measured, stopped } = await engine.ask('measureSensors', {})
    expect(stopped).toBe(true)
    expect(measured).toHaveLength(1)
    expect((await engine.ask('sensorFigures', {})).sensors).toEqual(measured)
    expect(course).toEqual(['running 0/1', 'running 0/2', 'done 2/2'])
  })

  it('are lacking, with what to shoot, where flats have no darks of their exposure', async () => {
    const scene = createScene()
    for (const n of [1, 2]) scene.flat(`flat${n}`, { exposureS: 6 })
    const engine = await engineOf(scene)
    await engine.log([join(scene.folder, 'capture')])
    const { measured, lacking } = await engine.ask('measureSensors', {})
    expect(measured).toEqual([])
    expect(lacking[0].text).toContain("needs two darks of a flat's own exposure, say 6 s")
  })
})

describe('the floor of a sensor', () => {
  it('is the shortest exposure from which levels follow: here one that gathers 8 % too little below a second', async () => {
    const scene = createScene()
    scene.dark('dark', { exposureS: 1 })
    const paths = [0.5, 1, 2, 4].flatMap((exposureS) =>
      [1, 2].map((n) =>
        scene.flat(`flat${exposureS}-${n}`, {
          exposureS,
          filter: 'luminance',
          panel: { levelAdu: 520 + 5_000 * exposureS },
          factor: exposureS < 1 ? 0.92 : 1,
        }),
      ),
    )
    const engine = await engineOf(scene)
    await engine.log([join(scene.folder, 'capture')])
    const { floorS, points, text, rule } = await engine.ask('findFloor', { paths })
    expect(floorS).toBe(1)
    expect(rule).toMatchObject({ class: 'glow', floorS: 3 })
    expect(points[0].departure).toBeCloseTo(-0.08, 2)
    const [first, second] = points[1].levelsAdu!
    expect((2 * Math.abs(first - second)) / (first + second)).toBeCloseTo(points[1].jump, 9)
    expect(text).toContain('Steady from 1 s on')
  })

  it('is compared cooled and uncooled, from one exposure on', async () => {
    const scene = createScene()
    for (const tempC of [-10, 15]) scene.dark(`dark${tempC}`, { exposureS: 1, tempC })
    const paths = [-10, 15].flatMap((tempC) =>
      [1, 2].map((n) =>
        scene.flat(`flat${tempC}-${n}`, {
          ...{ exposureS: 1, tempC, filter: 'luminance', panel: { levelAdu: 8_000 } },
          factor: tempC > 0 ? 1 + 0.06 * n : 1,
        }),
      ),
    )
    const engine = await engineOf(scene)
    await engine.log([join(scene.folder, 'capture')])
    const { floorS, text, compared } = await engine.ask('findFloor', { paths })
    expect(floorS).toBeNull()
    expect(text).toContain('at least three exposures')
    expect(compared!.cooled.tempC).toBeCloseTo(-10, 1)
    expect(compared!.points).toMatchObject([{ exposureS: 1, levelDiffers: true, jumpDiffers: true }])
    // The second uncooled frame was made 1.12/1.06 times as bright as the first, their median 1.09 times the cooled ones'.
    expect(compared!.points[0].levelChange).toBeCloseTo(0.09, 2)
    expect(compared!.points[0].jumpUncooled).toBeCloseTo(0.06 / 1.09, 2)
    expect(compared!.points[0].levelsUncooledAdu).toHaveLength(2)
    expect(compared!.text).toMatch(
      /at 1 s the level is 9\.\d % higher and jumps by 5\.\d % instead of 0\.\d %; the pedestal/,
    )
  })

  it('is refused for frames of two settings, for too few of them, and without a black level', async () => {
    const scene = createScene()
    const paths = [scene.flat('a', { exposureS: 1 }), scene.flat('b', { exposureS: 1, gain: 0 })]
    const engine = await engineOf(scene)
    const refusal = (ask: string[]) => engine.ask('findFloor', { paths: ask }).then(String, (e: Error) => e.message)
    expect(await refusal(paths)).toContain('differ in their gain')
    expect(await refusal(paths.slice(0, 1))).toContain('The black level is not known')
    expect(await refusal([])).toContain('three or more short exposures')
  })
})
