import { describe, expect, it } from 'vitest'
import { calibrate } from '../../main/inspect/calibrate.ts'
import { prove } from '../../main/inspect/proof.ts'
import { proofText } from '../../main/inspect/proof-text.ts'
import { simulateDark, type DarkScene } from './darks.ts'
import { simulateFlat, gaussian, seeded, type FlatScene } from './flats.ts'

const size = { width: 640, height: 448 }
const dark0: DarkScene = { ...size, pedestal: 1920, glow: 800, noise: 22 }
const flat0: FlatScene = {
  ...size,
  level: 28_000,
  ePerAdu: 0.25,
  shadows: [{ x: 200, y: 150, diameter: 80, depth: 0.05 }],
}
const of = (data: Float32Array) => ({ data, ...size, cfa: true })
const dark = of(simulateDark({ ...dark0, frames: 30 }, 1))
const flat = of(simulateFlat({ ...flat0, frames: 25 }, 2))

/** A raw light: sky through the flat's optics on top of a dark, stars and all, rounded to whole ADU. */
function light(skyAdu: number, darkScene: Partial<DarkScene> = {}, seed = 3) {
  const under = simulateDark({ ...dark0, ...darkScene, noise: 0 }, seed)
  const shape = simulateFlat({ ...flat0, ePerAdu: 1e12 }, 4)
  const noise = gaussian(seeded(seed))
  const spot = seeded(seed + 1)
  const stars = Array.from({ length: 60 }, () => ({ x: spot() * 640, y: spot() * 448, peak: 3_000 * spot() }))
  return of(
    under.map((d, i) => {
      const [x, y] = [i % 640, Math.floor(i / 640)]
      let sky = skyAdu
      for (const s of stars) {
        const r2 = (x - s.x) ** 2 + (y - s.y) ** 2
        if (r2 < 100) sky += s.peak * Math.exp(-r2 / 4)
      }
      const through = (sky * shape[i]) / 28_000
      return Math.round(d + through + Math.sqrt(22 ** 2 + through / 0.25) * noise())
    }),
  )
}

describe('the calibrated light', () => {
  it('is (light − dark) / (flat / mean of flat), each colour by its own mean', () => {
    const tiny = (data: number[]) => ({ data: Float32Array.from(data), width: 4, height: 2, cfa: true })
    const l = tiny([100, 200, 110, 210, 300, 400, 310, 410])
    const d = tiny([10, 10, 10, 10, 20, 20, 20, 20])
    const f = tiny([1, 4, 3, 4, 5, 8, 5, 4])
    // Cell means: (1+3)/2, (4+4)/2, (5+5)/2, (8+4)/2.
    expect([...calibrate(l, d, f)]).toEqual([180, 190, 100 / 1.5, 200, 280, 285, 290, 585].map(Math.fround))
  })
  it('keeps values below zero, and has none where the flat is dead', () => {
    const plane = (data: number[]) => ({ data: Float32Array.from(data), width: 2, height: 2, cfa: false })
    expect([...calibrate(plane([5, 5, 5, 5]), plane([7, 5, 5, 5]), plane([2, 2, 0, 2]))]).toEqual([-1.5, 0, NaN, 0])
  })
  it('refuses masters of another size in one sentence', () => {
    expect(() => calibrate(dark, { ...flat, width: 320, height: 896 }, flat)).toThrow(/one size/)
  })
})

describe('a proof', () => {
  it('shows glow, vignetting and hot pixels gone with the right masters', () => {
    const { figures, text } = prove(light(600), dark, flat)
    expect(figures.before.glowAdu!).toBeGreaterThan(600)
    expect(Math.abs(figures.after.glowOverNoise!)).toBeLessThan(0.3)
    expect(figures.before.glowRegion!.overNoise).toBeGreaterThan(5)
    expect(Math.abs(figures.after.glowRegion!.overNoise)).toBeLessThan(0.3)
    expect(figures.before.vignettingLeft!).toBeGreaterThan(0.8)
    expect(Math.abs(figures.after.vignettingLeft!)).toBeLessThan(0.1)
    expect(Math.abs(figures.after.shadowsLeft!)).toBeLessThan(0.3)
    expect(figures.before.shadowsLeft!).toBeGreaterThan(0.7)
    expect(figures.before.hotPixels).toBeGreaterThan(80)
    expect(figures.after.hotPixels).toBeLessThan(figures.before.hotPixels / 5)
    expect(text).toContain('Glow removed to 0.')
    expect(text).toContain('Vignetting corrected')
  })
  it('says that glow is left when the dark was too short', () => {
    const short = of(simulateDark({ ...dark0, glow: 500, frames: 30 }, 9))
    const { figures, text } = prove(light(600), short, flat)
    expect(figures.after.glowAdu!).toBeGreaterThan(200)
    // 800 − 500 ADU at the peak; the region holds all from a quarter of that.
    expect(figures.after.glowRegion!.adu).toBeGreaterThan(75)
    expect(figures.after.glowRegion!.adu).toBeLessThan(300)
    expect(text).toContain('under-subtracted')
  })
  it('says that too much glow was taken when the dark was too long', () => {
    const long = of(simulateDark({ ...dark0, glow: 1_200, frames: 30 }, 9))
    const { figures, text } = prove(light(600), long, flat)
    expect(figures.after.glowAdu!).toBeLessThan(-200)
    expect(figures.after.glowRegion!.adu).toBeLessThan(-100)
    expect(text).toContain('over-subtracted')
  })
  it('says that hot pixels stay when the dark was shorter', () => {
    const short = of(simulateDark({ ...dark0, signal: 0.3, frames: 30 }, 9))
    expect(prove(light(600), short, flat).text).toMatch(/hot pixels are left: this dark does not take them away/)
    expect(prove(light(600), dark, flat).text).toMatch(/hot pixels are left\.$/)
  })
  it('claims no glow gone where the field is more uneven than the glow, and no more than can be told where it is less', () => {
    const { before, after } = prove(light(600), dark, flat).figures
    const uneven = (glowBefore: number) =>
      proofText({ ...before, glowAdu: glowBefore }, { ...after, glowAdu: 60, glowOverNoise: 2, glowErrorAdu: 50 })
    expect(uneven(100)).toContain('Whether glow is left cannot be told: the field is uneven itself, by up to 150 ADU.')
    expect(uneven(700)).toContain('Glow removed, as far as this uneven field can tell (to 150 ADU).')
  })
  it('says that vignetting is over-corrected by a flat whose pedestal was taken away twice', () => {
    const wrong = of(flat.data.map((v) => v - 6_000))
    const { figures } = prove(light(2_000), dark, wrong)
    expect(figures.after.vignettingLeft!).toBeLessThan(-0.1)
  })
  it('counts pixels below zero in a dark sky and never clips them', () => {
    const { figures, calibrated } = prove(light(10), dark, flat)
    expect(figures.after.belowZero).toBeGreaterThan(10_000)
    expect(calibrated.some((v) => v < 0)).toBe(true)
  })

  it('tells the mottle of each colour, and no mottle where only noise is', () => {
    const clean = light(2_000)
    const noiseOnly = prove(clean, dark, flat, 'RGGB').figures.after.mottleByChannel!
    const planted = prove(mottled(clean, { R: 40, G: 0, B: 80 }), dark, flat, 'RGGB').figures.after.mottleByChannel!
    // Blocks of 128 pixels of 92 ADU noise, 3 × 3 of them: 3.2 ADU, which is taken off again.
    for (const left of Object.values(noiseOnly)) expect(left).toBeLessThan(3)
    expect(planted.R).toBeGreaterThan(0.55 * 40)
    expect(planted.R).toBeLessThan(0.85 * 40)
    expect(planted.B / planted.R).toBeGreaterThan(1.8)
    expect(planted.B / planted.R).toBeLessThan(2.2)
    expect(planted.G).toBeLessThan(3)
    // The same frame read as if its letters were turned: red and blue change places.
    const turned = prove(mottled(clean, { R: 40, G: 0, B: 80 }), dark, flat, 'BGGR').figures.after.mottleByChannel!
    expect([turned.R, turned.B]).toEqual([planted.B, planted.R])
  })
  it('tells no mottle by channel of a mono sensor', () => {
    expect(prove(light(600), dark, flat).figures.after.mottleByChannel).toBeNull()
  })
})

/** Waves of 160 px, down, of this root mean square (ADU) in each colour of RGGB. */
function mottled(frame: ReturnType<typeof light>, rms: Record<'R' | 'G' | 'B', number>) {
  const cells = [rms.R, rms.G, rms.G, rms.B]
  const wave = (i: number) => Math.SQRT2 * Math.sin((2 * Math.PI * Math.floor(i / 640)) / 160)
  return {
    ...frame,
    data: frame.data.map((v, i) => v + cells[((Math.floor(i / 640) & 1) << 1) | (i & 1)] * wave(i)),
  }
}
