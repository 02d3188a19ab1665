import type { NewCard } from '../fits/write.ts'
import { program, serial, site, targets } from './rig.ts'
import type { PlannedFrame } from './plan.ts'
import { electronsPerAdu, type Sensor } from './sensor.ts'
import type { Train } from './train.ts'

/** What every file of this camera says about itself, light or master. */
export interface Described {
  imageType: string
  exposureS: number
  sensorTempC: number
  setTempC: number
  gain: number
  offset: number
  filter: string | null
  startedAtMs: number
  /** 1 where not given. */
  binning?: number
}

export const card = (keyword: string, value: string | number, comment: string): NewCard => ({ keyword, value, comment })
/** A quantity keeps its decimal point: 300.0. */
const quantity = (keyword: string, value: number, comment: string): NewCard => ({ keyword, value, comment, real: true })

/** Keywords as capture programs write them; FITS reserves only a few of these (DATE-OBS, INSTRUME, TELESCOP, OBJECT). */
export function cameraCards(sensor: Sensor, train: Train, about: Described): NewCard[] {
  const { parameters } = sensor
  const { binning = 1 } = about
  return [
    card('IMAGETYP', about.imageType, 'kind of frame'),
    card('INSTRUME', parameters.name, 'camera'),
    card('SERIALNO', serial, 'camera body'),
    quantity('EXPTIME', about.exposureS, '[s] exposure'),
    quantity('EXPOSURE', about.exposureS, '[s] exposure'),
    card('DATE-OBS', isoTime(about.startedAtMs), 'UTC start of exposure'),
    card('DATE-LOC', isoTime(about.startedAtMs + site.utcOffsetH * 3_600_000), 'local start of exposure'),
    card('GAIN', about.gain, 'gain setting, 0.1 dB'),
    card('OFFSET', about.offset, 'offset setting'),
    quantity('EGAIN', round(electronsPerAdu(parameters, about.gain), 5), '[e-/ADU] conversion gain'),
    quantity('CCD-TEMP', about.sensorTempC, '[C] sensor at start of exposure'),
    quantity('SET-TEMP', about.setTempC, '[C] set point of the cooler'),
    card('XBINNING', binning, 'binning across'),
    card('YBINNING', binning, 'binning down'),
    quantity('XPIXSZ', parameters.pixelUm * binning, '[um] pixel after binning'),
    quantity('YPIXSZ', parameters.pixelUm * binning, '[um] pixel after binning'),
    card('READOUTM', 'Standard', 'readout mode'),
    card('BAYERPAT', parameters.cfa, 'colour filter array, from first stored pixel'),
    card('XBAYROFF', 0, 'offset of the array across'),
    card('YBAYROFF', 0, 'offset of the array down'),
    card('ROWORDER', 'TOP-DOWN', 'order of stored rows'),
    ...(about.filter ? [card('FILTER', about.filter, 'filter in the wheel')] : []),
    card('TELESCOP', train.telescope, 'telescope'),
    quantity('FOCALLEN', train.focalMm, '[mm] focal length'),
    quantity('APTDIA', train.apertureMm, '[mm] aperture'),
    card('SITENAME', site.name, 'observing site'),
    quantity('SITELAT', site.latDeg, '[deg] latitude'),
    quantity('SITELONG', site.longDeg, '[deg] longitude, east positive'),
    quantity('SITEELEV', site.elevationM, '[m] elevation'),
  ]
}

const imageTypes = { light: 'LIGHT', dark: 'DARK', flat: 'FLAT', darkFlat: 'DARKFLAT' } as const

/** The header of a raw frame, in the dialect of an invented capture program. */
export function frameCards(sensor: Sensor, train: Train, frame: PlannedFrame): NewCard[] {
  const { settings } = frame
  const seesLight = frame.kind === 'light' || frame.kind === 'flat'
  const cards = cameraCards(sensor, train, {
    ...settings,
    imageType: imageTypes[frame.kind],
    exposureS: frame.exposureS,
    sensorTempC: frame.sensorTempC,
    filter: seesLight ? settings.filter : null,
    startedAtMs: frame.startedAtMs,
  })
  if (frame.target) {
    const target = targets[frame.target]
    cards.push(
      card('OBJECT', target.name, 'target'),
      card('OBJCTRA', target.ra, 'right ascension'),
      card('OBJCTDEC', target.dec, 'declination'),
      card('PIERSIDE', settings.side, 'side of the mount'),
      quantity('OBJCTROT', settings.side === 'EAST' ? 63.4 : 243.4, '[deg] position angle on the sky'),
      card('FOCPOS', frame.focuserSteps, 'focuser position, steps'),
      quantity('FOCTEMP', round(17.5 - frame.number * 0.011, 1), '[C] temperature at the focuser'),
    )
  }
  cards.push(card('SWCREATE', program, 'writing program'))
  return cards
}

/** FITS dates carry no zone: UTC to the millisecond, without the Z. */
export const isoTime = (ms: number): string => new Date(ms).toISOString().slice(0, -1)

const round = (value: number, decimals: number) => Number(value.toFixed(decimals))
