import type { MasterKind } from '../contract/index.ts'
import type { NewCard } from '../fits/write.ts'
import { expectedAdu, noiseOf, type Exposure } from './exposure.ts'
import { cameraCards, card, isoTime } from './header.ts'
import { instant } from './plan.ts'
import { Random } from './random.ts'
import { electronsPerAdu, fullScaleAdu, pedestalAdu, type Sensor } from './sensor.ts'
import { Studio } from './studio.ts'

/** A master from an earlier night, as it stands on the shelf. */
export interface ShelfMaster {
  file: string
  tells: string
  kind: Extract<MasterKind, 'dark' | 'darkFlat' | 'flat'>
  daysBefore: number
  exposureS: number
  tempC: number
  gain: number
  offset: number
  frames: number
  filter?: string
  levelAdu?: number
  binning?: 2
  /** How its pixels are stored; `unit` is 0–1 of 65 535, from software that says neither scale nor number of frames. */
  stored: 'float32' | 'uint16' | 'unit'
}

const cold = { tempC: -10, gain: 100, offset: 30, stored: 'float32' } as const

export const shelf: ShelfMaster[] = [
  {
    ...cold,
    file: 'master-dark-300s.fits',
    tells: 'Matches the 300 s lights at offset 30.',
    kind: 'dark',
    daysBefore: 41,
    exposureS: 300,
    frames: 30,
  },
  {
    ...cold,
    file: 'master-dark-030s.fits',
    tells: 'Matches the 30 s lights, but is over a year old.',
    kind: 'dark',
    daysBefore: 430,
    exposureS: 30,
    frames: 20,
    stored: 'uint16',
  },
  {
    ...cold,
    file: 'master-dark-180s-colder.fits',
    tells: 'Near for the 180 s lights: 1.5 °C colder.',
    kind: 'dark',
    daysBefore: 190,
    exposureS: 180,
    tempC: -11.5,
    frames: 25,
  },
  {
    ...cold,
    file: 'master-dark-120s-offset-20.fits',
    tells: 'Serves no light of tonight: offset 20.',
    kind: 'dark',
    daysBefore: 75,
    exposureS: 120,
    offset: 20,
    frames: 20,
  },
  {
    ...cold,
    file: 'master-dark-300s-gain-0.fits',
    tells: 'Serves no light of tonight: gain 0.',
    kind: 'dark',
    daysBefore: 41,
    exposureS: 300,
    gain: 0,
    frames: 20,
  },
  {
    ...cold,
    file: 'master-dark-600s-from-elsewhere.fits',
    tells: 'Made by other software: 0 to 1, and nobody knows from how many frames.',
    kind: 'dark',
    daysBefore: 210,
    exposureS: 600,
    frames: 16,
    stored: 'unit',
  },
  {
    ...cold,
    file: 'master-dark-flat-006s.fits',
    tells: "The dual-band flat's own dark flat.",
    kind: 'darkFlat',
    daysBefore: 64,
    exposureS: 6,
    frames: 20,
  },
  {
    ...cold,
    file: 'master-flat-dual-band.fits',
    tells: 'Matches the dual-band lights; due for a check flat.',
    kind: 'flat',
    daysBefore: 64,
    exposureS: 6,
    filter: 'dual-band',
    levelAdu: 27_500,
    frames: 25,
  },
  {
    ...cold,
    file: 'master-flat-luminance-bin2.fits',
    tells: 'Serves no light of tonight: binned 2 by 2.',
    kind: 'flat',
    daysBefore: 64,
    exposureS: 3,
    filter: 'luminance',
    levelAdu: 28_000,
    frames: 25,
    binning: 2,
  },
]

/** When the first of its frames was taken: at dawn for flats, before midnight for darks. */
export function takenAtMs(master: ShelfMaster, night: string): number {
  return instant(night, master.kind === 'dark' ? '22:30' : '04:41') - master.daysBefore * 86_400_000
}

/** Pixels of a master in ADU (or 0–1): the sensor's truth with the noise that so many frames leave. */
export function masterPixels(studio: Studio, master: ShelfMaster): Float32Array | Uint16Array {
  const { sensor } = studio
  const random = new Random(studio.seed, 'shelf', master.file)
  const exposure = exposureOf(studio, master)
  const mean = expectedAdu(sensor, exposure)
  addNoise(sensor, exposure, mean, { frames: master.frames, random })
  if (master.kind === 'flat') subtractDarkFlat(sensor, exposure, mean, random)
  if (master.stored === 'unit') return mean.map((adu) => adu / 65_535)
  return master.stored === 'uint16' ? Uint16Array.from(mean, (adu) => Math.round(adu)) : mean
}

export function masterCards(studio: Studio, master: ShelfMaster, night: string): NewCard[] {
  const startedAtMs = takenAtMs(master, night)
  const imageType = { dark: 'DARK', flat: 'FLAT', darkFlat: 'DARKFLAT' }[master.kind]
  const about = { ...master, imageType, sensorTempC: master.tempC, setTempC: master.tempC, startedAtMs }
  const cards = cameraCards(studio.sensor, studio.train, { ...about, filter: master.filter ?? null })
  if (master.stored === 'unit') return cards
  cards.push(
    card('BUNIT', 'ADU', 'unit of the pixels'),
    card('NCOMBINE', master.frames, 'frames combined'),
    card('SUBTRACT', master.kind === 'flat' ? 'darkFlat' : 'none', 'what was subtracted before combining'),
    card('DATE', isoTime(startedAtMs + 86_400_000 / 2), 'UTC, when this file was made'),
    card('SWCREATE', 'Tideglass 2.3', 'writing program'),
  )
  return cards
}

function exposureOf(studio: Studio, master: ShelfMaster): Exposure {
  const { exposureS, gain, offset, filter, levelAdu } = master
  const light = filter && levelAdu ? studio.panelAt(levelAdu, { filter, exposureS, gain, offset }) : null
  return { exposureS, sensorTempC: master.tempC, gain, offset, light }
}

function addNoise(
  sensor: Sensor,
  exposure: Exposure,
  mean: Float32Array,
  { frames, random }: { frames: number; random: Random },
): void {
  const perAdu = electronsPerAdu(sensor.parameters, exposure.gain)
  const pedestal = pedestalAdu(sensor.parameters, exposure.offset)
  const most = fullScaleAdu(sensor.parameters)
  const noise = noiseOf(sensor, exposure.gain)
  const shrink = 1 / Math.sqrt(frames)
  for (let i = 0; i < mean.length; i++) {
    const electrons = Math.max(0, mean[i] - pedestal) * perAdu
    const noisy = mean[i] + noise(electrons) * shrink * random.gaussian()
    mean[i] = noisy < 0 ? 0 : noisy > most ? most : noisy
  }
}

/** A flat master has its dark flat master (of 20 frames) taken off already; its ADU scale is kept. */
function subtractDarkFlat(sensor: Sensor, exposure: Exposure, flat: Float32Array, random: Random): void {
  const covered = { ...exposure, light: null }
  const dark = expectedAdu(sensor, covered)
  addNoise(sensor, covered, dark, { frames: 20, random })
  for (let i = 0; i < flat.length; i++) flat[i] -= dark[i]
}
