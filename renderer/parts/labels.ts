import type { AsideReason, FrameState, Kind, Need, Scope, Urgency, VerdictWord } from '../../main/contract/words.ts'

/** The contract's words as they stand on screens. */

export const kindWord: Record<Kind, string> = {
  light: 'light',
  dark: 'dark',
  darkFlat: 'dark flat',
  flat: 'flat',
  bias: 'bias',
  unknown: 'frame of unknown kind',
}

export const kindsWord: Record<Kind, string> = {
  light: 'lights',
  dark: 'darks',
  darkFlat: 'dark flats',
  flat: 'flats',
  bias: 'bias frames',
  unknown: 'frames of unknown kind',
}

export const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1)

/** The word itself, for lists and the night strip. */
export const verdictWord: Record<VerdictWord, string> = {
  matched: 'matched',
  near: 'near',
  unconfirmed: 'unconfirmed',
  due: 'due',
  missing: 'missing',
  lost: 'lost',
}

/** What a verdict means, said once on hover and in the list of signs. */
export const verdictMeaning: Record<VerdictWord, string> = {
  matched: 'a master fits',
  near: 'a master almost fits; the differences are named',
  unconfirmed: 'a master fits, but for something that is not known',
  due: 'none yet, and it can still be shot',
  missing: 'none, and it can’t be shot any more',
  lost: 'the rig was taken apart without it',
}

/** A need that is still to be shot has its time: flats and their dark flats while the train stands, darks whenever. */
const whenDue: Record<Need, string> = {
  dark: 'due, any time',
  flat: 'due before teardown',
  darkFlat: 'due before teardown',
}

/** The answer for one need in a few words: "Dark: matched", "Flat: due before teardown". */
export const answerFor = (need: Need, verdict: VerdictWord) =>
  `${capital(kindWord[need])}: ${verdict === 'due' ? whenDue[need] : verdictWord[verdict]}`

/** What a file's state asks of a person. */
export const stateText: Record<FrameState, string> = {
  ok: '',
  broken: 'The file cannot be read as a frame: copy it again from the camera computer, or shoot the frame again.',
  incomplete: 'The file is not whole: wait until it is written, or copy it again from the camera computer.',
  'out of reach': 'The file is out of reach: connect its disk or network folder; nothing that is logged is lost.',
  gone: 'The file was moved or deleted: what the log knows of it stays. Put it back to see its picture.',
}

export const asideWord: Record<AsideReason, string> = {
  focus: 'focus',
  pointing: 'pointing',
  trial: 'trial',
  culled: 'culled',
}

export const urgencyWord: Record<Urgency, string> = {
  actNow: 'Act now',
  beforeTeardown: 'Before teardown',
  anyTime: 'Any time',
  note: 'Note',
}

export const scopeWord: Record<Scope, string> = {
  filter: 'filter touched',
  train: 'train changed',
  camera: 'camera touched',
}

const fieldWords: Record<string, string> = {
  camera: 'camera',
  body: 'camera body',
  width: 'width',
  height: 'height',
  originX: 'sub-frame origin x',
  originY: 'sub-frame origin y',
  binning: 'binning',
  readout: 'readout mode',
  gain: 'gain',
  offset: 'offset',
  setTempC: 'set temperature',
  sensorTempC: 'sensor temperature',
  tempC: 'sensor temperature',
  exposureS: 'exposure',
  filter: 'filter',
  telescope: 'telescope',
  focalMm: 'focal length',
  mechAngleDeg: 'rotator angle',
  skyAngleDeg: 'sky angle',
  cfa: 'colour pattern',
  rowOrder: 'row order',
  rig: 'rig',
  train: 'train',
  kind: 'kind',
  target: 'target',
  program: 'written by',
  frames: 'number of frames',
  scale: 'scale of its values',
  subtracted: 'what was subtracted',
  lightSource: 'lit by',
  epoch: 'train since',
}

/** A field of the contract in words; an unknown one is shown as it is spelled. */
export const fieldWord = (field: string) => fieldWords[field] ?? field
