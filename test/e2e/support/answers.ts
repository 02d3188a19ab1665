import { frame, master, masters, settings, tonight, verdict } from '../../renderer/support/night.ts'
import { shelfPageOf } from '../../renderer/support/shelf.ts'
import type { Answers } from './drawn.ts'

/** Answers of an engine in the middle of a night, and of one that was never used. */

export const answers: Answers = {
  tonight,
  library: { masters },
  shelf: shelfPageOf(masters),
  master: { master },
  masterNights: { nights: [{ night: '2026-11-20', frames: 37, totalS: 11_100 }] },
  checksOf: { checks: [] },
  coverage: {
    needs: [
      {
        kind: 'dark',
        verdict: 'due',
        counts: { due: 22 },
        settings: { ...settings, exposureS: 120, offset: 50 },
        nearest: null,
        text: 'none yet',
        frames: 22,
        totalS: 2640,
        firstNight: '2026-11-20',
        lastNight: '2026-11-20',
        tonight: true,
      },
    ],
    used: [3],
    near: [],
    nights: 4,
  },
  nights: { nights: [{ night: '2026-11-20', lights: 83, lightS: 15_420, frames: 120 }] },
  frame: {
    frame,
    verdicts: {
      dark: verdict('near', 'offset 50, the light has 30', {
        nearest: 3,
        differences: [{ field: 'offset', light: 30, master: 50 }],
      }),
      flat: verdict('lost', 'none was shot before the train was changed'),
    },
    cards: [
      { keyword: 'EXPTIME', value: '300.0', comment: '[s] exposure' },
      { keyword: 'GAIN', value: '120', comment: '<b>not bold</b>' },
    ],
  },
  run: {
    frames: [212, 213, 214].map((id) => ({
      id,
      kind: 'light',
      startedAt: `2026-11-21T01:${id - 170}:12Z`,
      sensorTempC: -9.9,
      aside: id === 212,
      asideWhy: id === 212 ? 'culled' : null,
      state: 'ok',
      median: 1200,
      noise: 21.4,
    })),
  },
  image: {
    refused: 'The file of frame 214 is not there at the moment: connect its disk, or look whether it was moved.',
  },
  folders: { folders: [{ id: 1, path: '/capture', rig: 'Hill pier', reachable: true, frames: 214 }] },
  browseFolders: { path: '/home/observer', parent: '/home', folders: [{ name: 'captures', fits: 212 }] },
  acknowledgeNotice: {},
  builds: { groups: [], running: null },
  rigs: { rigs: [] },
  cameras: { cameras: [] },
  trainChanges: { changes: [] },
  suggestedChanges: { suggestions: [] },
  flatsNow: { night: '2026-11-20', flats: [] },
  sensorFigures: {
    sensors: [
      {
        ...{ camera: 'Heron 11C', body: null, gain: 120, offset: 30, readout: null, binning: '1x1' },
        measuredAt: '2026-11-20T23:00:00.000Z',
        ePerAdu: { value: 0.2842, ci95: [0.2823, 0.286] },
        temporalDarkNoiseE: { value: 1.652, ci95: [1.64, 1.664] },
        saturationE: null,
        linearityErrorPercent: null,
        darkCurrentEPerS: { value: 0.0123, ci95: [0.0102, 0.0145] },
        darkCurrentAtC: -10,
        doublingC: { value: 6.4, ci95: [6.2, 6.6] },
        sources: ['/capture/flat-1.fits', '/capture/flat-2.fits'],
      },
    ],
  },
  setSensorRules: {},
  programQuestions: { questions: [] },
  undoSteps: { steps: [] },
  dataFolder: {
    path: '/home/observer/.local/share/nightshelf',
    bytes: { log: 12_300_000, masters: 4_200_000_000, backups: 61_000_000, pictures: 840_000 },
    freeBytes: 212_000_000_000,
    clearable: [],
    moving: false,
  },
  backups: { folder: '/home/observer/.local/share/nightshelf/backups', kept: 7, backups: [] },
  startAtLogin: { possible: true, on: false, how: 'Nightshelf then watches its folders from the tray.' },
}
const untouched = { ...tonight, runs: [], latest: [], folders: [], notices: [], shortfall: [], sun: null, changes: [] }
export const firstRun: Answers = { ...answers, tonight: untouched }
