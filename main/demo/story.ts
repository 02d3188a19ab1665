import type { Kind, RuleName } from '../contract/index.ts'
import type { TargetName } from './rig.ts'

/**
 * The demo night, scene by scene. Local time of the site; what a scene sets holds until another scene sets it.
 * A night as it happens: most of it is right; what is not stands in `mistakes`.
 */

export interface Scene {
  at: string
  tells: string
  sets?: Partial<Settings>
  shoots?: Shots
  mistakes?: MistakeName[]
}

export interface Settings {
  gain: number
  offset: number
  setTempC: number
  filter: string
  side: 'EAST' | 'WEST'
}

export interface Shots {
  kind: Extract<Kind, 'light' | 'dark' | 'flat' | 'darkFlat'>
  count: number
  exposureS: number
  /** A folder whose name says that these frames are no part of the picture. */
  aside?: 'trial' | 'pointing' | 'focus'
  target?: TargetName
  /** Median level of a flat: the panel's dimmer is set for it. */
  levelAdu?: number
  /** What the sensor warms to where the cooler cannot hold it. */
  warmsToC?: number
  /** This one (1 is the first) is cut off in the middle of writing. */
  cutShort?: number
}

/** Something to speak up for; its frames are those that the rule is about, which need not be the wrong ones. */
export interface Mistake {
  /** The rule that should speak up for it. */
  rule: RuleName
  /** What a checker should say, in short. */
  says: string
}

export const mistakes = {
  'offset-slip': {
    rule: 'settings-changed',
    says: 'Offset changed from 30 to 50 after the flip: 14 lights differ from the run before in this one setting.',
  },
  'no-dark-for-slip': {
    rule: 'no-dark',
    says: '14 lights of 300 s at offset 50 have no dark; the nearest has offset 30.',
  },
  'near-flat-for-slip': { rule: 'near-match', says: 'The dual-band flat has offset 30, those 14 lights have 50.' },
  'no-flat': { rule: 'no-flat', says: '20 lights through the sulphur filter have no flat, and none was shot.' },
  'near-dark': {
    rule: 'near-match',
    says: 'The only 180 s dark was taken 1.5 °C colder than the 20 lights that would use it.',
  },
  warm: { rule: 'warm', says: 'The sensor stood a degree above its set point for 8 lights.' },
  'cut-short': { rule: 'frame-broken', says: 'One light is shorter than its header says.' },
  'dark-flat-length': {
    rule: 'no-dark-flat',
    says: '25 flats of 4.5 s have no dark flat; the 20 shot for them are 5.4 s long (digits swapped).',
  },
  'old-dark': { rule: 'dark-aging', says: 'The 30 s dark is 430 days old: shoot one check dark.' },
  'aging-flat': { rule: 'flat-aging', says: 'The dual-band flat is 64 days old: shoot one check flat.' },
} satisfies Record<string, Mistake>
export type MistakeName = keyof typeof mistakes

const asides = { kind: 'light', count: 5, exposureS: 4, aside: 'focus' } as const

export const story: Scene[] = [
  {
    at: '18:25',
    tells: 'The camera is switched on and begins to cool from the evening air.',
    sets: { gain: 100, offset: 30, setTempC: -10, filter: 'luminance', side: 'EAST' },
  },
  {
    at: '18:33',
    tells: 'Two frames to see that the cap is off. The sensor is far from cold.',
    shoots: { kind: 'light', count: 2, exposureS: 2, aside: 'trial', target: 'weir' },
  },
  {
    at: '18:50',
    tells: 'Where does the mount point? Then focus.',
    shoots: { kind: 'light', count: 1, exposureS: 5, aside: 'pointing', target: 'weir' },
  },
  { at: '18:53', tells: 'Focus through luminance.', shoots: { ...asides, count: 9, target: 'weir' } },
  {
    at: '19:15',
    tells: 'Dark enough. Short frames of the cluster; the 30 s dark on the shelf is over a year old.',
    shoots: { kind: 'light', count: 20, exposureS: 30, target: 'weir' },
    mistakes: ['old-dark'],
  },
  {
    at: '19:34',
    tells: 'On to the main target, through the dual-band filter.',
    sets: { filter: 'dual-band' },
    shoots: { ...asides, count: 7, exposureS: 8, target: 'lantern' },
  },
  {
    at: '19:42',
    tells: 'Long frames. Dark and flat are on the shelf: this is how it should be.',
    shoots: { kind: 'light', count: 12, exposureS: 300, target: 'lantern' },
    mistakes: ['aging-flat'],
  },
  { at: '20:46', tells: 'It got colder: focus again.', shoots: { ...asides, exposureS: 8, target: 'lantern' } },
  {
    at: '20:50',
    tells: 'The run goes on.',
    shoots: { kind: 'light', count: 13, exposureS: 300, target: 'lantern' },
    mistakes: ['aging-flat'],
  },
  {
    at: '22:00',
    tells:
      'The meridian: the mount flips, the field stands upside down. The profile is loaded anew, with offset 50 in it.',
    sets: { side: 'WEST', offset: 50 },
    shoots: { kind: 'light', count: 1, exposureS: 5, aside: 'pointing', target: 'lantern' },
  },
  { at: '22:04', tells: 'Focus after the flip.', shoots: { ...asides, exposureS: 8, target: 'lantern' } },
  {
    at: '22:10',
    tells: 'Nobody has looked at the offset.',
    shoots: { kind: 'light', count: 14, exposureS: 300, target: 'lantern' },
    mistakes: ['offset-slip', 'no-dark-for-slip', 'near-flat-for-slip'],
  },
  {
    at: '23:25',
    tells: 'Found it, and set it back. The run continues as before the flip: a flip changes no match.',
    sets: { offset: 30 },
    shoots: { kind: 'light', count: 10, exposureS: 300, target: 'lantern' },
    mistakes: ['aging-flat'],
  },
  {
    at: '00:20',
    tells: 'The sulphur filter, new this month: it has never had a flat.',
    sets: { filter: 'sulphur' },
    shoots: { ...asides, exposureS: 20, target: 'lantern' },
  },
  {
    at: '00:26',
    tells: 'Its lights. The only 180 s dark on the shelf is 1.5 °C off.',
    shoots: { kind: 'light', count: 20, exposureS: 180, target: 'lantern' },
    mistakes: ['no-flat', 'near-dark'],
  },
  {
    at: '01:32',
    tells: 'Lantern 3 sinks into the haze; on to the last target, which rises.',
    sets: { filter: 'luminance', side: 'EAST' },
    shoots: { kind: 'light', count: 1, exposureS: 5, aside: 'pointing', target: 'ferry' },
  },
  { at: '01:35', tells: 'Focus through luminance.', shoots: { ...asides, target: 'ferry' } },
  {
    at: '01:40',
    tells: 'Lights of 120 s, one of which the disk does not take whole.',
    shoots: { kind: 'light', count: 24, exposureS: 120, target: 'ferry', cutShort: 17 },
  },
  {
    at: '03:05',
    tells: 'After half an hour of cloud.',
    shoots: { kind: 'light', count: 12, exposureS: 120, target: 'ferry' },
  },
  {
    at: '03:32',
    tells: 'The dew heaters take the power that the cooler needs.',
    shoots: { kind: 'light', count: 8, exposureS: 120, target: 'ferry', warmsToC: -8.9 },
    mistakes: ['warm'],
  },
  {
    at: '03:50',
    tells: 'Heaters down, sensor cold.',
    shoots: { kind: 'light', count: 14, exposureS: 120, target: 'ferry' },
  },
  {
    at: '04:35',
    tells: 'The panel goes on: flats through luminance, near mid-range.',
    shoots: { kind: 'flat', count: 25, exposureS: 3, levelAdu: 28_000 },
  },
  {
    at: '04:40',
    tells: 'The panel off and covered: their dark flats, same length.',
    shoots: { kind: 'darkFlat', count: 20, exposureS: 3 },
  },
  {
    at: '04:45',
    tells: 'Fresh flats for dual-band.',
    sets: { filter: 'dual-band' },
    shoots: { kind: 'flat', count: 25, exposureS: 4.5, levelAdu: 27_200 },
    mistakes: ['dark-flat-length'],
  },
  {
    at: '04:50',
    tells: 'Their dark flats: 5.4 typed for 4.5.',
    shoots: { kind: 'darkFlat', count: 20, exposureS: 5.4 },
  },
  {
    at: '04:56',
    tells: 'Cap on: darks for the 120 s lights. Nobody thinks of the 300 s at offset 50, nor of flats for sulphur.',
    shoots: { kind: 'dark', count: 20, exposureS: 120 },
  },
]
