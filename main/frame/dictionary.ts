/**
 * Which header keyword means which setting. This is data: to teach Nightshelf a spelling, add a line here (or let the user add
 * one; theirs come first). Hyphens, underscores and blanks in a keyword do not matter: CCD-TEMP, CCD_TEMP and CCDTEMP are one.
 *
 * Where each spelling comes from stands behind it:
 *   S    reserved by the FITS standard 4.0
 *   SB   SBFITSEXT 1.0, a published convention, as carried by nom-tam-fits (SBFitsExt)
 *   CE   common extensions, as carried by nom-tam-fits (CommonExt)
 *   HE   HEASARC dictionary of commonly used keywords
 *   IN   keyword statements of an open device-driver protocol's core library
 *   FI   a real file among the open data sets
 *   mem  from memory, no source seen
 */
export type SettingName =
  | 'kind'
  | 'camera'
  | 'body'
  | 'gain'
  | 'offset'
  | 'electronsPerAdu'
  | 'setTempC'
  | 'sensorTempC'
  | 'exposureS'
  | 'filter'
  | 'filterInSeries'
  | 'telescope'
  | 'focalMm'
  | 'mechAngleDeg'
  | 'skyAngleDeg'
  | 'binX'
  | 'binY'
  | 'binning'
  | 'originX'
  | 'originY'
  | 'readout'
  | 'pixelUm'
  | 'unbinnedPixelUm'
  | 'cfa'
  | 'cfaX'
  | 'cfaY'
  | 'rowOrder'
  | 'target'
  | 'program'
  | 'combined'
  | 'siteLatDeg'
  | 'siteLongDeg'
  | 'startedAt'
  | 'startTime'
  | 'localAt'
  | 'timeScale'

export type Unit = 's' | 'ms' | 'us' | 'min' | 'C' | 'K' | 'F' | 'mm' | 'cm' | 'm' | 'um' | 'deg' | 'e-/ADU'

/** number: a quantity; level: a number or a label ("HI"); words: text; angle: degrees, or degrees, minutes and seconds. */
export type ValueType = 'number' | 'level' | 'words' | 'angle'

export interface SettingDefinition {
  type: ValueType
  /** What the setting is kept in. */
  unit?: Unit
  /** A quantity outside is no such quantity: a temperature of 180 is no °C. Both ends count as inside. */
  least?: number
  most?: number
  /** Numbers that programs write for "not known". */
  blanks?: readonly number[]
  /** Values that are further apart than this (absolute, or as a fraction) disagree. */
  slack?: number
  slackFraction?: number
  /**
   * `must`: two keywords that disagree leave the setting unknown, with the conflict shown.
   * `first`: descriptions that may differ in wording; the spelling named first is taken.
   */
  agree: 'must' | 'first'
  /** Rounded to this many significant digits: a float32 that went through a header (-18.899999618530273) is -18.9 again. */
  digits?: number
  /** Rounded to this many decimals, on top. */
  decimals?: number
}

export const settings: Readonly<Record<SettingName, SettingDefinition>> = {
  kind: { type: 'words', agree: 'must' },
  camera: { type: 'words', agree: 'first' },
  body: { type: 'words', agree: 'first' },
  gain: { type: 'level', blanks: [-1], agree: 'must', digits: 7 },
  offset: { type: 'level', blanks: [-1], agree: 'must', digits: 7 },
  electronsPerAdu: {
    type: 'number',
    unit: 'e-/ADU',
    least: 1e-6,
    blanks: [0],
    most: 1e6,
    slackFraction: 0.01,
    agree: 'must',
    digits: 7,
  },
  setTempC: {
    type: 'number',
    unit: 'C',
    least: -150,
    most: 60,
    blanks: [-999, 999],
    slack: 0.05,
    agree: 'must',
    decimals: 2,
  },
  sensorTempC: {
    type: 'number',
    unit: 'C',
    least: -150,
    most: 60,
    blanks: [-999, 999],
    slack: 0.5,
    agree: 'must',
    decimals: 2,
  },
  exposureS: {
    type: 'number',
    unit: 's',
    least: 0,
    most: 86_400,
    slack: 0.01,
    slackFraction: 0.001,
    agree: 'must',
    digits: 7,
  },
  filter: { type: 'words', agree: 'must' },
  filterInSeries: { type: 'words', agree: 'first' },
  telescope: { type: 'words', agree: 'first' },
  focalMm: {
    type: 'number',
    unit: 'mm',
    least: 1,
    most: 100_000,
    blanks: [0],
    slackFraction: 0.01,
    agree: 'must',
    digits: 6,
  },
  mechAngleDeg: { type: 'number', unit: 'deg', least: -360, most: 720, slack: 0.5, agree: 'must', decimals: 3 },
  skyAngleDeg: { type: 'number', unit: 'deg', least: -360, most: 720, agree: 'first', decimals: 3 },
  binX: { type: 'number', least: 1, most: 64, agree: 'must' },
  binY: { type: 'number', least: 1, most: 64, agree: 'must' },
  binning: { type: 'words', agree: 'must' },
  originX: { type: 'number', least: 0, most: 1e6, agree: 'must' },
  originY: { type: 'number', least: 0, most: 1e6, agree: 'must' },
  readout: { type: 'level', agree: 'first', digits: 7 },
  pixelUm: {
    type: 'number',
    unit: 'um',
    least: 0.1,
    most: 1000,
    blanks: [0],
    slackFraction: 0.01,
    agree: 'must',
    digits: 6,
  },
  unbinnedPixelUm: {
    type: 'number',
    unit: 'um',
    least: 0.1,
    blanks: [0],
    most: 1000,
    slackFraction: 0.01,
    agree: 'must',
    digits: 6,
  },
  cfa: { type: 'words', agree: 'must' },
  cfaX: { type: 'number', least: -64, most: 64, agree: 'must' },
  cfaY: { type: 'number', least: -64, most: 64, agree: 'must' },
  rowOrder: { type: 'words', agree: 'must' },
  target: { type: 'words', agree: 'first' },
  program: { type: 'words', agree: 'first' },
  combined: { type: 'number', blanks: [0], least: 1, most: 1e6, agree: 'must' },
  siteLatDeg: { type: 'angle', unit: 'deg', least: -90, most: 90, slack: 0.05, agree: 'must', decimals: 6 },
  siteLongDeg: { type: 'angle', unit: 'deg', least: -360, most: 360, slack: 0.05, agree: 'must', decimals: 6 },
  startedAt: { type: 'words', agree: 'first' },
  startTime: { type: 'words', agree: 'first' },
  localAt: { type: 'words', agree: 'first' },
  timeScale: { type: 'words', agree: 'first' },
}

export interface Spelling {
  keyword: string
  setting: SettingName
  /** The keyword's own unit where it differs from the setting's; a unit beside the value or in the comment comes first. */
  unit?: Unit
}

/**
 * What the user answered once about a keyword of a writing program (SWCREATE, PROGRAM, CREATOR): the setting it means, or
 * `ignore`. `program` is the beginning of the program's name, without regard to case, so that its next version is known too.
 */
export interface ProgramAnswer {
  program: string
  keyword: string
  means: SettingName | 'ignore'
  unit?: Unit
}

const spell = (setting: SettingName, ...keywords: (string | [keyword: string, unit: Unit])[]): Spelling[] =>
  keywords.map((k) => (typeof k === 'string' ? { setting, keyword: k } : { setting, keyword: k[0], unit: k[1] }))

/** In order of preference within a setting. */
export const spellings: readonly Spelling[] = [
  ...spell('kind', 'IMAGETYP' /* SB IN FI */, 'IMAGETYPE' /* mem */, 'FRAME' /* IN */, 'OBSTYPE' /* mem */),
  ...spell('camera', 'INSTRUME' /* S */, 'CAMERA' /* mem */, 'DETNAM' /* HE */),
  ...spell('body', 'SERIALNO', 'SERIAL', 'CAMSERNO', 'CAMERASN', 'CAMSN', 'DETSERNO' /* all mem */),
  ...spell('gain', 'GAIN' /* CE IN */, 'GAINRAW' /* CE */, 'ISOSPEED' /* CE */),
  ...spell('offset', 'OFFSET' /* CE IN */, 'BLKLEVEL', 'BLACKLVL', 'BRIGHTNS' /* mem */),
  ...spell('electronsPerAdu', 'EGAIN' /* SB */, 'GAINADU' /* CE */),
  ...spell('setTempC', 'SET-TEMP' /* SB */, 'SETPOINT', 'CCDTSET' /* mem */),
  ...spell('sensorTempC', 'CCD-TEMP' /* SB IN */, 'DET-TEMP' /* mem */, 'SENSTEMP' /* mem */),
  ...spell('exposureS', 'EXPTIME' /* HE */, 'EXPOSURE' /* HE */, 'XPOSURE' /* S */, 'EXP_TIME' /* mem */),
  ...spell('exposureS', ['EXPMS', 'ms'], ['EXP_MS', 'ms'], ['EXPOSUS', 'us'] /* mem */),
  ...spell('filter', 'FILTER' /* HE IN */, 'FILTERS' /* FI */, 'FILTNAME' /* mem */),
  ...spell('filterInSeries', 'FILTER1', 'FILTER2', 'FILTER3' /* HE: FILTERn */),
  ...spell('telescope', 'TELESCOP' /* S */),
  ...spell('focalMm', 'FOCALLEN' /* SB IN */),
  ...spell('mechAngleDeg', 'ROTATANG' /* IN */, 'ROTATOR' /* mem */),
  ...spell('skyAngleDeg', 'OBJCTROT' /* CE */, 'ANGLE' /* CE */, 'POSANGLE' /* mem */),
  ...spell('binX', 'XBINNING' /* SB */, 'CCDXBIN' /* CE */),
  ...spell('binY', 'YBINNING' /* SB */, 'CCDYBIN' /* CE */),
  ...spell('binning', 'BINNING', 'CCDSUM' /* mem */),
  ...spell('originX', 'XORGSUBF' /* SB */),
  ...spell('originY', 'YORGSUBF' /* SB */),
  ...spell('readout', 'READOUTM', 'READMODE' /* mem */),
  ...spell('pixelUm', 'XPIXSZ' /* SB IN: after binning */),
  ...spell('unbinnedPixelUm', 'PIXSIZE1' /* IN */),
  ...spell('cfa', 'BAYERPAT' /* IN */, 'COLORTYP' /* IN */),
  ...spell('cfaX', 'XBAYROFF' /* IN */),
  ...spell('cfaY', 'YBAYROFF' /* IN */),
  ...spell('rowOrder', 'ROWORDER' /* IN */),
  ...spell('target', 'OBJECT' /* S */),
  ...spell('program', 'SWCREATE' /* SB */, 'PROGRAM' /* HE */, 'CREATOR' /* HE */),
  ...spell('combined', 'NCOMBINE' /* mem */, 'SNAPSHOT' /* SB */),
  ...spell('siteLatDeg', 'SITELAT' /* SB IN */, 'LATITUDE' /* FI */),
  ...spell('siteLongDeg', 'SITELONG' /* SB IN */, 'LONGITUD' /* FI */),
  ...spell('startedAt', 'DATE-BEG' /* S: the start by definition */, 'DATE-OBS' /* S: the start by practice */),
  ...spell('startTime', 'UT' /* FI */, 'TIME-OBS' /* HE */, 'UTSTART', 'UTC' /* mem */),
  ...spell('localAt', 'DATE-LOC' /* CE */),
  ...spell('timeScale', 'TIMESYS' /* S */),
]
