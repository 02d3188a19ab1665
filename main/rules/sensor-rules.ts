import type { SensorRules } from '../contract/index.ts'

export type SensorClass = SensorRules['class']

const practice = 'common practice, no source'

/** Sensors whose amplifier glow or unsteady bias forgives nothing. The default: being careful costs minutes, not a picture. */
const glow: SensorRules = {
  class: 'glow',
  name: 'Sensors with amplifier glow',
  floorS: {
    value: 3,
    reason:
      'Below a few seconds such sensors are read out differently, and glow and bias do not repeat from frame to frame.',
    source: practice,
  },
  biasAllowed: {
    value: false,
    reason: 'A bias frame does not hold the glow and the start-up pattern of a longer exposure; a dark flat does.',
    source: practice,
  },
  flatTargetAdu: {
    value: 28_000,
    reason: 'Near the middle of the range: well above the noise, well below where the response bends.',
    source: `${practice}; observatories publish 20 000 to 40 000 counts (ING prime-focus manual 2.4.4.2)`,
  },
  flatToleranceFraction: {
    value: 0.3,
    reason:
      'From 19 600 to 36 400 ADU a flat serves as well; beyond that it is worth a word while the panel is still there.',
    source: practice,
  },
  linearFraction: {
    value: 0.7,
    reason: 'The brightest channel must stay where the response is a straight line.',
    source: 'EMVA 1288 fits its gain over 0 to 70 % of saturation',
  },
  leastSnr: {
    value: 30,
    reason: '25 flats of 900 electrons a pixel leave 0.7 % of noise, and flats of 0.8 % are worse than none.',
    source: 'STIS ISR 99-06 for the 0.8 %; the rest is photon statistics',
  },
  cooledCalibration: {
    value: true,
    reason: 'Glow and dark current follow the temperature, so calibration frames are taken as cold as the lights.',
    source: practice,
  },
  flatNeedsSameGain: {
    value: true,
    reason: 'Gain and offset change the fixed pattern and the black level that a flat carries.',
    source: practice,
  },
}

/** Sensors without glow and with a bias that repeats. */
const quiet: SensorRules = {
  ...glow,
  class: 'quiet',
  name: 'Quiet sensors',
  floorS: { value: 0, reason: 'Short exposures of these sensors repeat as well as long ones.', source: practice },
  biasAllowed: {
    value: true,
    reason: 'Without glow, a bias and a dark flat of a few seconds are the same within the noise.',
    source: practice,
  },
  cooledCalibration: {
    value: true,
    reason: 'Dark current follows the temperature in every sensor.',
    source: 'Teledyne e2v data sheet as quoted by msfc-ccd.readthedocs.io (dark current against temperature)',
  },
  flatNeedsSameGain: {
    value: false,
    reason: 'The pattern that a flat removes is the same at every gain; its own dark flat takes the offset away.',
    source: practice,
  },
}

/** The user's own: begins as a copy of the careful ones. */
const yours: SensorRules = { ...glow, class: 'yours', name: 'Your own rules' }

/** Rules by class, as delivered. Dark scaling exists in none of them. */
export const defaultSensorRules: Readonly<Record<SensorClass, SensorRules>> = { glow, quiet, yours }

export interface SensorChoice {
  /** Class by camera, as INSTRUME has it, without regard to case; a camera that is not named is taken for a glow sensor. */
  classOf?: Readonly<Record<string, SensorClass>>
  /** Rules that the user edited, by class. */
  edited?: Partial<Record<SensorClass, SensorRules>>
}

/** The rules that hold for each camera. */
export function sensorRulesFor({ classOf = {}, edited = {} }: SensorChoice): (camera: string | null) => SensorRules {
  const byCamera = new Map(Object.entries(classOf).map(([camera, chosen]) => [camera.trim().toUpperCase(), chosen]))
  return (camera) => {
    const chosen = byCamera.get((camera ?? '').trim().toUpperCase()) ?? 'glow'
    return edited[chosen] ?? defaultSensorRules[chosen]
  }
}
