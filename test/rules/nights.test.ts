import { describe, expect, it } from 'vitest'
import type { Frame } from '../../main/contract/index.ts'
import type { NightState } from '../../main/rules/state.ts'
import { sensorRulesFor } from '../../main/rules/sensor-rules.ts'
import { aMaster, aMasterFlat } from '../match/samples.ts'
import { at, figures, SimulatedNight, summarise, usualShelf } from './simulated-night.ts'

/**
 * Whole nights, each with every notice that should be open at some moments, and no other: "rule severity frames". The shelf
 * covers what is not said otherwise; the Sun is 12° down from 17:27 to 06:24. `later`: opened five days after.
 */
interface Night {
  says: string
  play: () => SimulatedNight
  /** Part of the state that only the engine knows, at each moment. */
  state?: Partial<NightState>
  open: Record<string, string[]>
}

const night = (...more: Parameters<typeof aMaster>[0][]) =>
  new SimulatedNight([...usualShelf(), ...more.map((m, i) => aMaster({ id: 20 + i, ...m }))])
/** Lights from 18:00 to 06:19. */
const allNight = 146
const masterFlat = (changes = {}) => ({ ...aMasterFlat(), ...changes })
const filters = ['L', 'R', 'G', 'B']
const monoShelf = () => [aMaster({ id: 1 }), aMaster({ id: 2, kind: 'darkFlat', exposureS: 3.5 })]
const inTurn = (i: number): Partial<Frame> => ({ filter: filters[Math.floor(i / 3) % 4] })
const roofSettings = {
  rig: 'Roof',
  camera: 'Heron 6',
  telescope: 'Newt 200',
  width: 3008,
  height: 3008,
  cfa: null,
}
const roof: Partial<Frame> = roofSettings
const focus: Partial<Frame> = { aside: true, asideWhy: 'focus', exposureS: 4, filter: 'L' }

const ordinary: Night[] = [
  {
    says: 'ordinary',
    play: () => night().lights(allNight),
    open: { '18:05': [], '23:00': [], '06:20': [], '07:30': [], later: [] },
  },
  {
    says: 'two rigs side by side',
    play: () => {
      const n = night({ ...roofSettings, kind: 'dark' }, masterFlat({ ...roofSettings, id: 21 })).lights(70)
      return n.until('18:01').lights(70, roof)
    },
    open: { '22:00': [], '06:40': [], later: [] },
  },
  {
    says: 'rotating filters, each with its flat',
    play: () =>
      new SimulatedNight([...monoShelf(), ...filters.map((filter, i) => aMasterFlat({ id: 10 + i, filter }))]).lights(
        allNight,
        inTurn,
      ),
    open: { '20:00': [], '06:40': [] },
  },
  {
    says: "the mount's flip turns the sky angle by half a turn",
    play: () => night().lights(70, { skyAngleDeg: 12 }).pause(4).lights(75, { skyAngleDeg: 192 }),
    open: { '00:10': [], '06:40': [], later: [] },
  },
  {
    says: 'alt-azimuth: the sky turns all night',
    play: () => night().lights(allNight, (i) => ({ skyAngleDeg: (i * 1.7) % 360 })),
    open: { '02:00': [], '06:40': [] },
  },
  {
    says: 'autofocus every hour, with pauses of 8 minutes',
    play: () => {
      const n = night()
      for (let hour = 0; hour < 11; hour++) n.lights(11).pause(2).shoot(5, focus).pause(5)
      return n
    },
    open: { '19:03': [], '22:00': [], '06:40': [], later: [] },
  },
  {
    says: 'cooling down under focus frames, and the first lights still warm',
    play: () =>
      night()
        .shoot(10, (i) => ({ ...focus, exposureS: 20, sensorTempC: 8 - 1.4 * i }))
        .lights(3, (i) => ({ sensorTempC: -6 - i }))
        .lights(130, (i) => ({ sensorTempC: -10 + 0.1 * (i % 3) })),
    open: { '18:20': [], '06:30': [], later: [] },
  },
  {
    says: 'a rotator turns, and each angle has its flat',
    play: () =>
      new SimulatedNight([
        ...monoShelf(),
        ...[90, 135].map((mechAngleDeg, i) => aMasterFlat({ id: 10 + i, mechAngleDeg })),
      ])
        .lights(70, { mechAngleDeg: 90.2, target: 'Heart 1' })
        .lights(70, { mechAngleDeg: 134.9, target: 'Veil 2' }),
    open: { '03:00': [], '06:40': [] },
  },
  {
    says: 'a drawer without FILTER: unknown on both sides',
    play: () => new SimulatedNight([...monoShelf(), aMasterFlat({ filter: null })]).lights(60, { filter: null }),
    open: { '06:40': [] },
  },
  {
    says: 'trial frames: two of another gain, and pointing shots',
    play: () =>
      night()
        .lights(2, { exposureS: 10, gain: 300, filter: 'L' })
        .shoot(6, { ...focus, asideWhy: 'pointing' })
        .lights(120),
    open: { '19:00': [], '06:40': [], later: [] },
  },
  {
    says: 'a planned change of filter, exposure and gain',
    play: () =>
      night({ gain: 0, exposureS: 60 }, masterFlat({ id: 21, gain: 0, filter: 'L' }))
        .lights(70)
        .lights(200, { gain: 0, exposureS: 60, filter: 'L', target: 'Weir' }),
    open: { '02:00': [], '06:40': [] },
  },
  {
    says: 'a cloudy evening for darks, the shelf full',
    play: () => night().darks(20).darks(20, { exposureS: 120 }),
    open: { '20:30': [], later: [] },
  },
  {
    says: 'a master that waits for an answer is no alarm, only unconfirmed',
    play: () => new SimulatedNight([aMaster({ id: 1, scale: null }), aMasterFlat({ id: 3 })]).lights(60),
    open: { '22:00': [], '06:40': [] },
  },
  {
    says: 'warming up at the end: the set point goes up, a few darks are still running',
    play: () =>
      night()
        .lights(100)
        .darks(5, (i) => ({ setTempC: 15, sensorTempC: -8 + 3 * i, exposureS: 60 })),
    open: { '06:40': [], later: [] },
  },
]

const flatNights: Night[] = [
  {
    says: 'a wheel: filters in blocks, no flats; leaving one wakes nobody, dawn does',
    play: () => {
      const n = new SimulatedNight(monoShelf())
      for (const filter of filters) n.lights(36, { filter })
      return n
    },
    open: {
      '18:12': [],
      '18:20': ['no-flat beforeTeardown 3'],
      '23:00': ['no-flat beforeTeardown 23', 'no-flat beforeTeardown 36'],
      '06:30': Array(4).fill('no-flat actNow 36'),
      later: Array(4).fill('no-flat actNow 36'),
    },
  },
  {
    says: 'dawn flats for several filters: quiet while they are being shot, none at the end',
    play: () => {
      const n = new SimulatedNight(monoShelf())
      for (const filter of filters) n.lights(36, { filter })
      n.until('06:25')
      for (const filter of filters) n.flats(25, { filter, exposureS: 3.5 }).pause(3)
      return n
    },
    open: {
      '06:20': Array(4).fill('no-flat beforeTeardown 36'),
      '06:29': Array(3).fill('no-flat beforeTeardown 36'),
      '06:50': [],
      later: [],
    },
  },
  {
    says: 'sky flats at dawn: the level climbs as the sky does',
    play: () =>
      new SimulatedNight(monoShelf())
        .lights(60)
        .until('07:00')
        .flats(25, (i) => ({ figures: figures({ median: 22_000 * 1.018 ** i }) })),
    open: { '07:10': [], later: [] },
  },
  {
    says: 'auto-exposed flats: the exposure follows the light',
    play: () =>
      night()
        .lights(60)
        .until('07:00')
        .flats(25, (i) => ({ exposureS: 12 - i * 0.35, figures: figures({ median: 28_000 + 1200 * (i % 2) }) })),
    open: { '07:15': [], later: [] },
  },
  {
    says: 'a drawer: the filter is taken out by hand before its flats',
    play: () =>
      new SimulatedNight([...monoShelf(), aMasterFlat({ id: 3, filter: 'L' })])
        .lights(40, { filter: 'Ha' })
        .pause(10)
        .lights(40, { filter: 'L' }),
    state: { rigs: [{ name: 'Fell End', filterByHand: true }] },
    open: { '21:00': ['no-flat beforeTeardown 35'], '22:00': ['no-flat actNow 40'] },
  },
  {
    says: 'taken apart with flats missing: they are lost',
    play: () => new SimulatedNight(monoShelf()).lights(60).until('06:00').change({ closes: true }),
    open: {
      '05:00': ['no-flat beforeTeardown 60', 'watch-stalled actNow 1'],
      '06:10': ['flat-lost note 60'],
      later: ['flat-lost note 60'],
    },
  },
  {
    says: 'taken apart by mistake, and taken back',
    play: () =>
      new SimulatedNight(monoShelf())
        .lights(60)
        .until('06:00')
        .change({ closes: true, undoneAt: at('06:05') }),
    open: { '06:10': ['no-flat beforeTeardown 60', 'watch-stalled actNow 1'], later: ['no-flat actNow 60'] },
  },
  {
    says: 'the train was changed: the old flat is near until a check flat holds',
    play: () => night().change().lights(100),
    open: { '20:00': ['near-match beforeTeardown 23'], later: ['near-match beforeTeardown 100'] },
  },
  {
    says: 'the train was changed, and a check flat held',
    play: () =>
      new SimulatedNight([aMaster({ id: 1 }), aMasterFlat({ id: 3, provenAt: at('18:10') })]).change().lights(100),
    open: { '20:00': [], later: [] },
  },
  {
    says: 'the train is changed in mid-night: each half has its own flats',
    play: () => new SimulatedNight(monoShelf()).flats(25).lights(50).change().lights(50),
    open: { '22:15': [], '02:00': ['no-flat beforeTeardown 44'], later: ['no-flat actNow 50'] },
  },
  {
    says: 'fresh flats, but dark flats with two digits swapped',
    play: () => night().lights(100).flats(25, { exposureS: 4.5 }).darkFlats(20, { exposureS: 5.4 }),
    open: {
      '04:00': ['no-dark-flat beforeTeardown 25'],
      later: ['no-dark-flat actNow 25'],
    },
  },
  {
    says: 'flats of half a second through a glow sensor',
    play: () => night({ kind: 'darkFlat', exposureS: 0.5 }).lights(60).flats(25, { exposureS: 0.5 }),
    open: { '23:30': ['flat-short beforeTeardown 25'], later: ['flat-short beforeTeardown 25'] },
  },
  {
    says: 'flats too bright',
    play: () =>
      night()
        .lights(60)
        .flats(25, { figures: figures({ median: 41_200 }) }),
    open: { later: ['flat-level beforeTeardown 25'] },
  },
  {
    says: 'flats of a 14-bit camera whose data are not shifted up',
    play: () =>
      night()
        .lights(60, { figures: figures({ median: 600, max: 16_383 }) })
        .flats(25, { figures: figures({ median: 7000, max: 9000 }) }),
    open: { later: [] },
  },
  {
    says: 'flats clipped in a corner',
    play: () =>
      night()
        .lights(60)
        .flats(25, (i) => ({ figures: figures({ clippedHigh: i < 4 ? 200_000 : 12 }) })),
    open: { later: ['flat-clipped beforeTeardown 4'] },
  },
  {
    says: 'a panel that warms up',
    play: () =>
      night()
        .lights(60)
        .flats(25, (i) => ({ figures: figures({ median: 28_000 * (1 + 0.002 * i) }) })),
    open: { later: ['flat-drift beforeTeardown 25'] },
  },
  {
    says: 'first flats through a dual-band filter: uneven, and nothing to compare with',
    play: () =>
      night()
        .lights(60)
        .flats(25, { figures: figures({ channels: { R: level(22_000), G: level(28_000), B: level(30_000) } }) }),
    open: { later: [] },
  },
  {
    says: 'another light source than usual',
    play: () =>
      night()
        .lights(60)
        .flats(25, { figures: figures({ channels: { R: level(12_000), G: level(28_000), B: level(30_000) } }) }),
    state: {
      acceptedFlats: [
        {
          rig: 'Fell End',
          camera: 'Owl 26C',
          filter: 'dual-band',
          pedestal: 500,
          channels: { R: 22_000, G: 28_000, B: 30_000 },
        },
      ],
    },
    open: { later: ['flat-balance beforeTeardown 25'] },
  },
  {
    says: 'a flat of two months, until it is proven',
    play: () =>
      new SimulatedNight([aMaster({ id: 1 }), aMasterFlat({ id: 3, madeAt: '2026-09-17T06:00:00Z' })]).lights(60),
    open: { '22:00': ['flat-aging beforeTeardown 47'], later: ['flat-aging beforeTeardown 60'] },
  },
  {
    says: 'a flat of two months, proven last week',
    play: () =>
      new SimulatedNight([
        aMaster({ id: 1 }),
        aMasterFlat({ id: 3, madeAt: '2026-09-17T06:00:00Z', provenAt: '2026-11-12T06:00:00Z' }),
      ]).lights(60),
    open: { '22:00': [] },
  },
  {
    says: 'a flat of two months, and fresh ones shot beside it',
    play: () =>
      new SimulatedNight([...monoShelf(), aMasterFlat({ id: 3, madeAt: '2026-09-17T06:00:00Z' })]).lights(60).flats(25),
    open: { later: ['flat-aging anyTime 60'] },
  },
]

const sensorNights: Night[] = [
  {
    says: 'no dark on the shelf: quiet for two lights, told at three, closed by the darks at dawn',
    play: () => new SimulatedNight([aMasterFlat({ id: 3 })]).lights(100).until('04:00').darks(20),
    open: { '18:12': [], '18:16': ['no-dark anyTime 3'], '04:30': ['no-dark anyTime 100'], '06:00': [], later: [] },
  },
  {
    says: 'the offset slips after the flip',
    play: () => night().lights(70, { skyAngleDeg: 12 }).lights(70, { skyAngleDeg: 192, offset: 50 }),
    open: {
      '00:10': ['near-match beforeTeardown 3', 'no-dark anyTime 3', 'settings-changed anyTime 3'],
      later: ['near-match beforeTeardown 70', 'no-dark anyTime 70', 'settings-changed anyTime 70'],
    },
  },
  {
    says: 'binning slips in mid-target: frames that will not stack',
    play: () => night().lights(70).lights(30, { binning: '2x2' }),
    open: {
      '02:00': ['no-dark anyTime 25', 'no-flat beforeTeardown 25', 'settings-changed actNow 25'],
      later: ['no-dark anyTime 30', 'no-flat actNow 30', 'settings-changed anyTime 30'],
    },
  },
  {
    says: 'an offset that no dark has comes with another target and filter',
    play: () =>
      night(masterFlat({ id: 21, filter: 'L', offset: 50 }))
        .lights(70)
        .lights(60, { offset: 50, filter: 'L', target: 'Weir' }),
    open: { later: ['no-dark anyTime 60', 'settings-changed anyTime 60'] },
  },
  {
    says: 'the set point is lowered in mid-night: no alarm while it cools, darks wanted for the colder half',
    play: () =>
      night()
        .lights(70)
        .lights(50, (i) => ({ setTempC: -15, sensorTempC: Math.max(-15, -11 - i) })),
    open: { '23:59': [], '02:00': ['no-dark anyTime 21'], later: ['no-dark anyTime 46'] },
  },
  {
    says: 'the cooler cannot hold for eight frames',
    play: () => night().lights(60).lights(8, { sensorTempC: -8.9 }).lights(60),
    open: { '23:05': [], '23:30': ['warm note 5'], later: ['warm note 8'] },
  },
  {
    says: 'the cooler fails in mid-night',
    play: () =>
      night()
        .lights(60)
        .lights(20, (i) => ({ sensorTempC: -10 + Math.min(14, 2 * i) }))
        .lights(40, { sensorTempC: 4 }),
    open: { '23:45': ['warm actNow 7'] },
  },
  {
    says: 'a summer night: the cooler stands three degrees short of its set point',
    play: () =>
      night({ sensorTempC: -17 }).lights(60, (i) => ({ setTempC: -20, sensorTempC: Math.max(-17, 5 - 6 * i) })),
    open: { '18:25': [], later: ['warm note 53'] },
  },
  {
    says: 'the cooler is off: no set point in the headers any more',
    play: () =>
      night()
        .lights(60)
        .flats(25, (i) => ({ setTempC: null, sensorTempC: -4 + 0.2 * i })),
    open: { later: ['no-dark-flat actNow 25', 'warm note 25'] },
  },
  {
    says: 'bias frames of a glow sensor',
    play: () => night().lights(60).shoot(30, { kind: 'bias', exposureS: 0, filter: null }),
    open: { later: ['bias-unwanted note 30'] },
  },
  {
    says: 'bias frames of a quiet sensor',
    play: () => {
      const n = night().lights(60).shoot(30, { kind: 'bias', exposureS: 0, filter: null })
      n.context = { sensorRules: sensorRulesFor({ classOf: { 'Owl 26C': 'quiet' } }) }
      return n
    },
    open: { later: [] },
  },
  {
    says: 'darks that touch zero',
    play: () =>
      night()
        .lights(60)
        .darks(20, { figures: figures({ median: 40, min: 0, clippedLow: 90_000 }) }),
    open: { later: ['pedestal-low anyTime 20'] },
  },
  {
    says: 'the dark is 1.5 °C colder than the lights',
    play: () => new SimulatedNight([aMaster({ id: 1, sensorTempC: -11.5 }), aMasterFlat({ id: 3 })]).lights(60),
    open: { '22:00': ['near-match anyTime 47'], later: ['near-match anyTime 60'] },
  },
  {
    says: 'the dark is 1.5 °C colder, and a check dark of tonight held',
    play: () =>
      new SimulatedNight([
        aMaster({ id: 1, sensorTempC: -11.5, provenAt: at('19:00') }),
        aMasterFlat({ id: 3 }),
      ]).lights(60),
    open: { '22:00': [] },
  },
  {
    says: 'a dark of fourteen months',
    play: () =>
      new SimulatedNight([aMaster({ id: 1, madeAt: '2025-09-16T12:00:00Z' }), aMasterFlat({ id: 3 })]).lights(60),
    open: { later: ['dark-aging anyTime 60'] },
  },
  {
    says: 'a dark against which a check dark did not hold, young as it is',
    play: () => new SimulatedNight([aMaster({ id: 1, refutedAt: at('19:00') }), aMasterFlat({ id: 3 })]).lights(60),
    open: { later: ['dark-aging anyTime 60'] },
  },
  {
    says: 'a dark from before the capture program changed',
    play: () =>
      new SimulatedNight([
        aMaster({ id: 1, program: 'Nightshelf 1.0', capturedWith: 'Shutter 1.9', sources: ['/old/dark-1.fits'] }),
        aMasterFlat({ id: 3 }),
      ]).lights(60),
    open: { later: ['dark-aging anyTime 60'] },
  },
  {
    says: 'a dark that another program integrated, from who knows which frames',
    play: () => new SimulatedNight([aMaster({ id: 1, program: 'Stacker 7' }), aMasterFlat({ id: 3 })]).lights(60),
    open: { later: [] },
  },
  {
    says: 'two rigs with the same camera model: a dark of one proves nothing for the other',
    play: () => {
      const n = new SimulatedNight([aMaster({ id: 1 }), aMasterFlat({ id: 3 })]).lights(60)
      return n.until('18:01').lights(60, { rig: 'Roof' })
    },
    open: { later: ['no-flat actNow 60'] },
  },
  {
    says: 'the camera was sold: what is missing can never come',
    play: () => {
      const n = new SimulatedNight([]).lights(60)
      n.context = { gone: ['Owl 26C'] }
      return n
    },
    open: { later: ['no-dark anyTime 60'] },
  },
]

const keepingNights: Night[] = [
  {
    says: 'a gap of two hours for clouds',
    play: () => night().lights(48).pause(120).lights(40),
    open: { '22:15': [], '22:20': ['watch-stalled actNow 1'], '00:20': [], later: [] },
  },
  {
    says: 'the program stops at two: told until dawn, not after',
    play: () => night().lights(95),
    open: { '02:10': [], '03:00': ['watch-stalled actNow 1'], '06:30': [], later: [] },
  },
  {
    says: 'frames of twenty minutes: the next one is not late',
    play: () => night({ exposureS: 1200 }).lights(30, { exposureS: 1200 }),
    open: { '18:39': [], '20:00': [], later: [] },
  },
  {
    says: 'the plan ends with darks: nothing has stalled',
    play: () => night().lights(60).darks(20),
    open: { '02:00': [] },
  },
  {
    says: 'the folder is out of reach',
    play: () => night().lights(60),
    state: { watches: [{ path: '/mnt/pier', rig: 'Fell End', lostSince: at('22:40') }] },
    open: { '22:45': ['watch-lost actNow 0'] },
  },
  {
    says: 'the folder is back',
    play: () => night().lights(60),
    state: { watches: [{ path: '/mnt/pier', rig: 'Fell End', lostSince: null }] },
    open: { '22:45': [], later: [] },
  },
  {
    says: 'a disk unplugged at noon sounds no alarm',
    play: () => night(),
    state: { watches: [{ path: '/mnt/pier', rig: null, lostSince: at('13:00') }] },
    open: { '14:00': ['watch-lost anyTime 0'] },
  },
  {
    says: 'the disk fills',
    play: () => night().lights(60),
    state: { roomH: 1.4 },
    open: { '22:00': ['disk-low actNow 0'], later: [] },
  },
  { says: 'room for three hours', play: () => night().lights(60), state: { roomH: 3 }, open: { '22:00': [] } },
  {
    says: 'one light is cut short',
    play: () => night().lights(60).shoot(1, { state: 'broken' }).lights(20),
    open: { later: ['frame-broken note 1'] },
  },
  {
    says: 'a light whose file stays short while others land',
    play: () => night().lights(10).lights(1, { state: 'incomplete' }).lights(20),
    open: { '18:56': [], '19:30': ['frame-broken note 1'], later: ['frame-broken note 1'] },
  },
  {
    says: 'files that cannot be logged: one notice for each cause',
    play: () => night().lights(10),
    state: {
      passedOver: ['a.fits', 'b.fits', 'c.fits'].map((name, i) => ({
        path: `/night/${name}`,
        rig: 'Fell End',
        cause: i < 2 ? 'not-fits' : 'unreadable',
        reason: 'One sentence.',
      })),
    },
    open: { '18:55': ['frame-broken note 1', 'frame-broken note 2'] },
  },
  {
    says: 'the one dark that fits is damaged',
    play: () => new SimulatedNight([aMaster({ id: 1, state: 'damaged' }), aMasterFlat({ id: 3 })]).lights(60),
    open: { later: ['master-damaged anyTime 0', 'no-dark anyTime 60'] },
  },
]

function level(adu: number) {
  return { median: adu, mean: adu }
}

describe.each([
  ['an ordinary night ends without a notice', ordinary],
  ['flats', flatNights],
  ['the sensor and its darks', sensorNights],
  ['keeping watch', keepingNights],
])('%s', (_, nights) => {
  it.each(nights.map((n) => [n.says, n] as const))('%s', (_says, { play, state, open }) => {
    const played = play()
    for (const [time, expected] of Object.entries(open)) {
      Object.assign(played.state, state)
      const { notices } = time === 'later' ? played.assessLater() : played.assessAt(time)
      expect(summarise(notices), time).toEqual([...expected].sort())
    }
  })
})
