import { describe, expect, test } from 'vitest'
import type { FrameFacts } from '../../main/frame/describe.ts'
import { describeCards, type Value } from './facts.ts'

/**
 * One line a header: what it says, what is understood, and which settings are in conflict (then null).
 * SB: SBFITSEXT 1.0 and CE: common extensions, both as carried by nom-tam-fits; IN: keyword statements of an open device-driver
 * protocol; HE: HEASARC dictionary; S: FITS standard 4.0; FI: real files of the open data sets (values carried over);
 * CP: common practice, no source.
 */
type Line = [what: string, cards: Record<string, Value>, facts: Partial<FrameFacts>, conflicts?: string[]]

const exposure: Line[] = [
  ['a real in seconds (HE)', { EXPTIME: 300 }, { exposureS: 300 }],
  ['two synonyms that agree (FI cooled CCD)', { EXPTIME: 120, EXPOSURE: 120 }, { exposureS: 120 }],
  ['two synonyms within a driver’s jitter (CP)', { EXPTIME: 300, EXPOSURE: 300.0012 }, { exposureS: 300 }],
  ['two synonyms that disagree', { EXPTIME: 300, EXPOSURE: 240 }, { exposureS: null }, ['exposureS']],
  ['the reserved keyword alone (S)', { XPOSURE: 12.5 }, { exposureS: 12.5 }],
  ['a number as text', { EXPTIME: '300' }, { exposureS: 300 }],
  ['text with a unit', { EXPTIME: '300s' }, { exposureS: 300 }],
  ['text with a unit in words and blanks', { EXPTIME: '  300 seconds  ' }, { exposureS: 300 }],
  ['milliseconds behind the value', { EXPTIME: '2500 ms' }, { exposureS: 2.5 }],
  [
    'milliseconds in the comment, as the standard writes units',
    { EXPTIME: [2500, '[ms] exposure'] },
    { exposureS: 2.5 },
  ],
  ['milliseconds in the comment, in words', { EXPOSURE: [3000, 'Exposure time in milliseconds'] }, { exposureS: 3 }],
  ['microseconds', { EXPTIME: '3200000us' }, { exposureS: 3.2 }],
  ['minutes', { EXPTIME: '5 min' }, { exposureS: 300 }],
  ['a keyword that is in milliseconds by its name (CP)', { EXPMS: 3000 }, { exposureS: 3 }],
  ['milliseconds beside seconds that agree', { EXPTIME: 3, EXPMS: 3000 }, { exposureS: 3 }],
  ['a decimal comma', { EXPTIME: '3,5' }, { exposureS: 3.5 }],
  ['a comma with three digits that can only be decimals', { EXPTIME: '300,000' }, { exposureS: 300 }],
  ['a comma that may be decimals or thousands', { EXPTIME: '1,500' }, { exposureS: null }, ['exposureS']],
  ['noise of a float32', { EXPTIME: 0.0010000000474974513 }, { exposureS: 0.001 }],
  ['an exponent of the old kind', { EXPTIME: '1.5D+02' }, { exposureS: 150 }],
  ['nought, as a bias has it', { EXPTIME: 0 }, { exposureS: 0 }],
  ['a negative time', { EXPTIME: -1 }, { exposureS: null }, ['exposureS']],
  ['words', { EXPTIME: 'long' }, { exposureS: null }, ['exposureS']],
  ['a unit of something else', { EXPTIME: '300 mm' }, { exposureS: null }, ['exposureS']],
  ['nothing', { EXPTIME: '' }, { exposureS: null }],
  ['a keyword repeated with another value', { EXPTIME: 300, 'EXPTIME ': 60 }, { exposureS: null }, ['exposureS']],
  ['the dark current’s time is not the exposure (SB)', { DARKTIME: 305 }, { exposureS: null }],
]

const temperature: Line[] = [
  [
    'set point and sensor are two settings (FI cooled CCD)',
    { 'SET-TEMP': -18.899999618530273, 'CCD-TEMP': -19.01545425 },
    { setTempC: -18.9, sensorTempC: -19.02 },
  ],
  ['no set point stays unknown (IN writes none)', { 'CCD-TEMP': -10 }, { setTempC: null, sensorTempC: -10 }],
  ['no sensor temperature stays unknown', { 'SET-TEMP': -10 }, { setTempC: -10, sensorTempC: null }],
  ['text with a unit', { 'CCD-TEMP': '-10.0 C' }, { sensorTempC: -10 }],
  ['text with a degree sign', { 'CCD-TEMP': '-10.0°C' }, { sensorTempC: -10 }],
  ['a decimal comma', { 'CCD-TEMP': '-9,8' }, { sensorTempC: -9.8 }],
  ['a typographic minus', { 'CCD-TEMP': '−10' }, { sensorTempC: -10 }],
  ['an underscore for the hyphen', { CCD_TEMP: -10 }, { sensorTempC: -10 }],
  ['no hyphen, lower case', { ccdtemp: -10 }, { sensorTempC: -10 }],
  ['the detector’s name for it (CP)', { 'DET-TEMP': -5 }, { sensorTempC: -5 }],
  [
    'kelvin by the looks of it (FI SAAO)',
    { 'CCD-TEMP': [180.2, 'CCD Cu block temperature'] },
    { sensorTempC: null },
    ['sensorTempC'],
  ],
  ['kelvin by its comment', { 'CCD-TEMP': [263.15, '[K] sensor'] }, { sensorTempC: -10 }],
  ['kelvin by its unit', { 'CCD-TEMP': '263.15 K' }, { sensorTempC: -10 }],
  ['fahrenheit by its unit', { 'CCD-TEMP': '14 F' }, { sensorTempC: -10 }],
  ['a number that stands for “none” (CP)', { 'CCD-TEMP': -999 }, { sensorTempC: null }],
  ['two sensors that disagree', { 'CCD-TEMP': -10, 'DET-TEMP': -5 }, { sensorTempC: null }, ['sensorTempC']],
]

const gain: Line[] = [
  ['a setting and an offset', { GAIN: 100, OFFSET: 30 }, { gain: 100, offset: 30 }],
  ['settings as text', { GAIN: '100 ', OFFSET: '30' }, { gain: 100, offset: 30 }],
  ['nought is a setting', { GAIN: 0, OFFSET: 0 }, { gain: 0, offset: 0 }],
  ['a label (CE)', { GAIN: 'HI' }, { gain: 'HI' }],
  ['beside EGAIN, which says the rest (SB)', { GAIN: 100, EGAIN: 0.8 }, { gain: 100, electronsPerAdu: 0.8 }],
  ['electrons by its comment (FI SAAO)', { GAIN: [1.9, 'e-/ADU'] }, { gain: null, electronsPerAdu: 1.9 }],
  ['electrons by its comment, in words', { GAIN: [0.79, 'Electrons per ADU'] }, { gain: null, electronsPerAdu: 0.79 }],
  ['electrons by its unit', { GAIN: '1.9 e-/ADU' }, { gain: null, electronsPerAdu: 1.9 }],
  ['a fraction that may be either', { GAIN: 1.9 }, { gain: null, electronsPerAdu: null }, ['gain']],
  ['a fraction that equals EGAIN', { GAIN: 0.8, EGAIN: 0.8 }, { gain: null, electronsPerAdu: 0.8 }],
  ['a whole number that equals EGAIN', { GAIN: 1, EGAIN: 1 }, { gain: null, electronsPerAdu: 1 }, ['gain']],
  ['a fraction that EGAIN explains', { GAIN: 12.5, EGAIN: 0.8 }, { gain: 12.5, electronsPerAdu: 0.8 }],
  ['a fraction that its comment explains', { GAIN: [5.5, 'gain in dB'] }, { gain: 5.5 }],
  [
    'electrons in GAIN, the setting in GAINRAW (CE)',
    { GAIN: [0.8, 'e-/ADU'], GAINRAW: 120 },
    { gain: 120, electronsPerAdu: 0.8 },
  ],
  ['two settings that disagree', { GAIN: 100, GAINRAW: 120 }, { gain: null }, ['gain']],
  ['a speed instead (CE)', { ISOSPEED: 800 }, { gain: 800 }],
  ['a black level instead of an offset (CP)', { BLKLEVEL: 50 }, { offset: 50 }],
  ['two offsets that disagree', { OFFSET: 50, BLKLEVEL: 30 }, { offset: null }, ['offset']],
  ['a pedestal is no offset (SB)', { PEDESTAL: -100 }, { offset: null }],
  ['−1 stands for “none” (CP)', { GAIN: -1, OFFSET: -1 }, { gain: null, offset: null }],
  ['no gain and no offset', {}, { gain: null, offset: null, electronsPerAdu: null }],
]

const kinds: Line[] = [
  ...(
    [
      ['Light Frame', 'light'],
      ['LIGHT   ', 'light'],
      ['light', 'light'],
      ['object    ', 'light'],
      ['Tricolor Image', 'light'],
      ['Dark Frame', 'dark'],
      ['DARK', 'dark'],
      ['Bias Frame', 'bias'],
      ['zero', 'bias'],
      ['Flat Field', 'flat'],
      ['Flat Frame', 'flat'],
      ['SKYFLAT', 'flat'],
      ['FLAT,SKY', 'flat'],
      ['Flat', 'flat'],
      ['DarkFlat', 'darkFlat'],
      ['Flat Dark', 'darkFlat'],
      ['FLATDARK', 'darkFlat'],
      ['dark flat', 'darkFlat'],
      ['dark-flat', 'darkFlat'],
      ['DARK_FLAT', 'darkFlat'],
      ['Dark Flat Frame', 'darkFlat'],
      ['darkflats', 'darkFlat'],
      ['Dark for Flats', 'darkFlat'],
    ] as const
  ).map(([text, kind]): Line => [`“${text}”`, { IMAGETYP: text }, { kind, kindFrom: 'header' }]),
  ['FRAME (IN)', { FRAME: 'Flat Frame' }, { kind: 'flat', kindFrom: 'header' }],
  ['a FRAME that names coordinates', { FRAME: 'FK5' }, { kind: 'unknown' }],
  ['OBSTYPE', { OBSTYPE: 'object' }, { kind: 'light' }],
  ['two that disagree', { IMAGETYP: 'Light', FRAME: 'Dark' }, { kind: 'unknown' }, ['kind']],
  ['dark, and more exactly dark flat', { IMAGETYP: 'Dark', FRAME: 'DarkFlat' }, { kind: 'darkFlat' }],
  ['a word that is no kind', { IMAGETYP: 'Brut' }, { kind: 'unknown' }, ['kind']],
  ['words that exclude each other', { IMAGETYP: 'Light or Dark' }, { kind: 'unknown' }, ['kind']],
  ['nothing at all', {}, { kind: 'unknown', integrated: false }],
  ['a master', { IMAGETYP: 'Master Dark' }, { kind: 'dark', integrated: true }],
  ['a master by its count (SB)', { IMAGETYP: 'Dark', SNAPSHOT: 20 }, { kind: 'dark', combined: 20, integrated: true }],
  ['a single frame by its count', { IMAGETYP: 'Dark', NCOMBINE: 1 }, { combined: 1, integrated: false }],
  ['a focus frame is aside', { IMAGETYP: 'FOCUS' }, { aside: true, asideWhy: '"focus" in IMAGETYP' }, ['kind']],
  ['a pointing frame is aside', { IMAGETYP: 'Light', OBJECT: 'Pointing' }, { kind: 'light', aside: true }],
]

const sensor: Line[] = [
  ['binning on both axes (SB)', { XBINNING: 2, YBINNING: 2 }, { binning: '2x2' }],
  ['binning by the other names (CE)', { CCDXBIN: 1, CCDYBIN: 1 }, { binning: '1x1' }],
  ['binning in one word', { BINNING: '2x2' }, { binning: '2x2' }],
  ['binning in one number', { BINNING: 3 }, { binning: '3x3' }],
  ['binning with a blank between', { CCDSUM: '2 2' }, { binning: '2x2' }],
  ['binning that differs by axis', { XBINNING: 1, YBINNING: 2 }, { binning: '1x2' }],
  ['binning on one axis only', { XBINNING: 2 }, { binning: null }, ['binning']],
  ['binning that disagrees', { XBINNING: 2, YBINNING: 2, BINNING: '1x1' }, { binning: null }, ['binning']],
  ['no binning', {}, { binning: null, originX: null, originY: null, readout: null }],
  ['a sub-frame (SB)', { XORGSUBF: 0, YORGSUBF: 128 }, { originX: 0, originY: 128 }],
  ['a readout mode by number', { READOUTM: 1 }, { readout: 1 }],
  ['a readout mode by name', { READOUTM: 'Low Noise ' }, { readout: 'Low Noise' }],
  ['pixels after binning (SB)', { XPIXSZ: 9, XBINNING: 2, YBINNING: 2 }, { pixelUm: 9 }],
  ['bare pixels (IN)', { PIXSIZE1: 4.63, XBINNING: 2, YBINNING: 2 }, { pixelUm: 9.26 }],
  ['bare pixels by the comment', { XPIXSZ: [4.63, 'unbinned, um'], XBINNING: 2, YBINNING: 2 }, { pixelUm: 9.26 }],
  [
    'pixel sizes that do not fit',
    { XPIXSZ: 4.63, PIXSIZE1: 4.63, XBINNING: 2, YBINNING: 2 },
    { pixelUm: null },
    ['pixelUm'],
  ],
  ['a pattern (IN)', { BAYERPAT: 'RGGB', ROWORDER: 'TOP-DOWN' }, { cfa: 'RGGB', rowOrder: 'TOP-DOWN' }],
  ['a pattern by the other name (IN)', { COLORTYP: 'GRBG' }, { cfa: 'GRBG' }],
  ['a pattern moved by one column', { BAYERPAT: 'RGGB', XBAYROFF: 1, YBAYROFF: 0 }, { cfa: 'GRBG' }],
  ['a pattern moved by one row', { BAYERPAT: 'RGGB', XBAYROFF: 0, YBAYROFF: 1 }, { cfa: 'GBRG' }],
  ['a pattern moved by both', { BAYERPAT: 'RGGB', XBAYROFF: 1, YBAYROFF: 1 }, { cfa: 'BGGR' }],
  ['bottom-up rows, even height', { BAYERPAT: 'RGGB', ROWORDER: 'bottom-up' }, { cfa: 'GBRG', rowOrder: 'BOTTOM-UP' }],
  ['lower case and blanks', { BAYERPAT: ' rggb ' }, { cfa: 'RGGB' }],
  ['mono', { COLORTYP: 'MONO' }, { cfa: null }],
  ['letters that are no pattern', { BAYERPAT: 'RGBX' }, { cfa: null }, ['cfa']],
  ['patterns that disagree', { BAYERPAT: 'RGGB', COLORTYP: 'BGGR' }, { cfa: null }, ['cfa']],
  ['a serial number (CP)', { INSTRUME: 'Corvid 12 ', SERIALNO: 'A0417' }, { camera: 'Corvid 12', body: 'A0417' }],
  ['no serial number', { INSTRUME: 'Corvid 12' }, { body: null }],
]

const train: Line[] = [
  ['a filter', { FILTER: 'Ha' }, { filter: 'Ha' }],
  ['a filter by another of its names', { FILTER: 'H-alpha' }, { filter: 'Ha' }],
  ['a filter in lower case with blanks', { FILTER: ' oiii ' }, { filter: 'OIII' }],
  ['a bandwidth makes another filter', { FILTER: 'Ha 3nm' }, { filter: 'Ha 3nm' }],
  ['Blue and B may stand in one wheel', { FILTER: 'Blue' }, { filter: 'Blue' }],
  ['no filter is known, not unknown', { FILTER: 'NONE' }, { filter: 'none' }],
  ['clear glass is another thing than none', { FILTER: 'Clear' }, { filter: 'Clear' }],
  ['a blank filter is unknown', { FILTER: ' ' }, { filter: null }],
  ['a wheel’s numbers (FI SAAO)', { FILTERS: 48 }, { filter: '48' }],
  ['two wheels in series (HE)', { FILTER1: 'none', FILTER2: 'Ha' }, { filter: 'Ha' }],
  ['two filters in series', { FILTER1: 'L', FILTER2: 'polariser' }, { filter: 'L + polariser' }],
  ['two that disagree', { FILTER: 'Ha', FILTERS: 'OIII' }, { filter: null }, ['filter']],
  ['focal length', { FOCALLEN: 478.2 }, { focalMm: 478.2 }],
  ['focal length in metres', { FOCALLEN: [0.8, '[m] focal length'] }, { focalMm: 800 }],
  ['a focal length of nought is unknown (FI cooled CCD)', { FOCALLEN: 0 }, { focalMm: null }],
  ['a rotator (IN)', { ROTATANG: 361.5 }, { mechAngleDeg: 1.5 }],
  ['a negative rotator angle', { ROTATANG: -90 }, { mechAngleDeg: 270 }],
  ['the sky’s angle is another (CE)', { OBJCTROT: 179.25 }, { mechAngleDeg: null, skyAngleDeg: 179.25 }],
  [
    'telescope, target and program',
    { TELESCOP: 'Heron 80 ', OBJECT: 'M 31', SWCREATE: 'Kestrel 2.1' },
    { telescope: 'Heron 80', target: 'M 31', program: 'Kestrel 2.1' },
  ],
  ['no target', { OBJECT: 'None' }, { target: null }],
]

const placeAndTime: Line[] = [
  [
    'degrees, minutes, seconds (FI cooled CCD)',
    { SITELAT: '+46:52:00.408', SITELONG: '-96:27:11.8008' },
    { siteLatDeg: 46.86678, siteLongDeg: -96.453278 },
  ],
  [
    'blanks between (SB)',
    { SITELAT: '-33 52 10', SITELONG: '151 12 30' },
    { siteLatDeg: -33.869444, siteLongDeg: 151.208333 },
  ],
  ['reals (IN)', { SITELAT: 51.5, SITELONG: 359.5 }, { siteLatDeg: 51.5, siteLongDeg: -0.5 }],
  [
    'letters for the sides',
    { SITELAT: '33 52 10 S', SITELONG: '70 44 W' },
    { siteLatDeg: -33.869444, siteLongDeg: -70.733333 },
  ],
  ['minus nought degrees', { SITELAT: '-00:30:00', SITELONG: '10:00:00' }, { siteLatDeg: -0.5 }],
  ['west counted positive, by its comment', { SITELAT: 40, SITELONG: [105, 'degrees west'] }, { siteLongDeg: -105 }],
  ['nought, nought was never set (CP)', { SITELAT: 0, SITELONG: 0 }, { siteLatDeg: null, siteLongDeg: null }],
  ['two places', { SITELAT: 46.8, LATITUDE: 12 }, { siteLatDeg: null }, ['siteLatDeg']],
  ['a latitude that is none', { SITELAT: 146.8, SITELONG: 10 }, { siteLatDeg: null }, ['siteLatDeg']],
  [
    'a start (S)',
    { 'DATE-OBS': '2026-11-20T21:14:05.250' },
    { startedAt: '2026-11-20T21:14:05.250Z', night: '2026-11-20' },
  ],
  ['a start without decimals', { 'DATE-OBS': '2026-11-20T21:14:05' }, { startedAt: '2026-11-20T21:14:05.000Z' }],
  ['a blank for the T', { 'DATE-OBS': '2026-11-20 21:14:05' }, { startedAt: '2026-11-20T21:14:05.000Z' }],
  ['seven decimals', { 'DATE-OBS': '2026-11-20T21:14:05.2501234' }, { startedAt: '2026-11-20T21:14:05.250Z' }],
  [
    'a Z that the standard does not have',
    { 'DATE-OBS': '2026-11-20T21:14:05Z' },
    { startedAt: '2026-11-20T21:14:05.000Z' },
  ],
  [
    'date and time apart (FI SAAO)',
    { 'DATE-OBS': '2013-07-13', UT: '00:57:33' },
    { startedAt: '2013-07-13T00:57:33.000Z', night: '2013-07-12' },
  ],
  [
    'date and time apart (HE)',
    { 'DATE-OBS': '2013-07-13', 'TIME-OBS': '22:00:01.5' },
    { startedAt: '2013-07-13T22:00:01.500Z' },
  ],
  [
    'the old form means 19YY (year-2000 agreement)',
    { 'DATE-OBS': '31/12/98', UT: '23:00:00' },
    { startedAt: '1998-12-31T23:00:00.000Z', night: '1998-12-31' },
  ],
  ['a date without a time', { 'DATE-OBS': '2026-11-21' }, { startedAt: null, night: '2026-11-20' }, ['startedAt']],
  ['the start by definition (S)', { 'DATE-BEG': '2026-11-20T21:00:00' }, { startedAt: '2026-11-20T21:00:00.000Z' }],
  [
    'the middle in DATE-OBS',
    { 'DATE-BEG': '2026-11-20T21:00:00', 'DATE-OBS': '2026-11-20T21:02:30', EXPTIME: 300 },
    { startedAt: '2026-11-20T21:00:00.000Z' },
  ],
  [
    'two starts an hour apart',
    { 'DATE-BEG': '2026-11-20T21:00:00', 'DATE-OBS': '2026-11-20T22:00:00', EXPTIME: 60 },
    { startedAt: null },
    ['startedAt'],
  ],
  [
    'a date that is none',
    { 'DATE-OBS': '2026-02-30T00:00:00' },
    { startedAt: null, night: '2026-11-20' },
    ['startedAt'],
  ],
  ['words for a date', { 'DATE-OBS': 'yesterday' }, { startedAt: null }, ['startedAt']],
  ['no date: the file’s own night', {}, { startedAt: null, night: '2026-11-20' }],
  [
    'local time tells the night (CE)',
    { 'DATE-OBS': '2026-11-20T11:30:00', 'DATE-LOC': '2026-11-20T22:30:00' },
    { night: '2026-11-20' },
  ],
  [
    'local time alone',
    { 'DATE-LOC': '2026-11-21T01:30:00.5' },
    { startedAt: '2026-11-21T01:30:00.500Z', night: '2026-11-20' },
  ],
]

const groups = { exposure, temperature, gain, kinds, sensor, train, placeAndTime }

for (const [name, lines] of Object.entries(groups))
  describe(`a header's ${name}`, () => {
    test.each(lines)('%s', (_what, cards, facts, conflicts = []) => {
      const described = describeCards(cards)
      expect(described).toMatchObject(facts)
      expect(described.conflicts.map((conflict) => conflict.setting).sort()).toEqual([...conflicts].sort())
      for (const conflict of described.conflicts) expect(conflict.text).toMatch(/^\S.*, so the .* is unknown\.$/)
    })
  })

test('the table holds at least 80 headers', () => {
  expect(Object.values(groups).flat().length).toBeGreaterThanOrEqual(80)
})
