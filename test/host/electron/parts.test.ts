import { decode } from 'fast-png'
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import type { EngineEvent, Notice, Tonight } from '../../../main/contract/index.ts'
import { readArguments } from '../../../main/host/electron/arguments.ts'
import { discPng } from '../../../main/host/electron/disc.ts'
import { followNight } from '../../../main/host/electron/night.ts'
import { desktopEntry } from '../../../main/host/electron/login.ts'
import { dawnWord, placeOf } from '../../../main/host/electron/notifications.ts'
import { trayState, type Shape } from '../../../main/host/electron/tray-state.ts'
import type { EngineKeeper } from '../../../main/host/engine-link.ts'

const night = (parts: object): Tonight => ({ runs: [{}], notices: [], shortfall: [], ...parts }) as unknown as Tonight

describe('the tray', () => {
  const urgent = { severity: 'actNow', acknowledged: false, text: 'Shoot the flats of L now.' } as Notice
  const teardown = { urgency: 'beforeTeardown' }
  const anyTime = { urgency: 'anyTime' }
  test.each<[string, Parameters<typeof trayState>[0], Shape, string]>([
    ['an engine that is lost', { engine: 'lost', tonight: night({ notices: [urgent] }) }, 'dotted', 'started again'],
    ['nothing known yet', { engine: 'starting', tonight: null }, 'dotted', 'Starting'],
    [
      'what must be done now',
      { engine: 'ready', tonight: night({ notices: [urgent], shortfall: [teardown] }) },
      'struck',
      'Shoot the flats of L now.',
    ],
    [
      'an acknowledged notice no more',
      { engine: 'ready', tonight: night({ notices: [{ ...urgent, acknowledged: true }] }) },
      'full',
      'covered',
    ],
    [
      'what must be shot before teardown',
      { engine: 'ready', tonight: night({ shortfall: [teardown, teardown, anyTime] }) },
      'ring',
      '2 runs',
    ],
    ['what can wait', { engine: 'ready', tonight: night({ shortfall: [anyTime] }) }, 'full', '1 run for another time'],
    ['a night without frames', { engine: 'ready', tonight: night({ runs: [] }) }, 'full', 'no frame yet'],
    ['a night that is covered', { engine: 'ready', tonight: night({}) }, 'full', 'Every frame is covered'],
  ])('says %s', (_what, view, shape, line) => {
    expect(trayState(view)).toEqual({ shape, line: expect.stringContaining(line) })
  })
})

describe('the disc', () => {
  const alphaAt = (shape: Shape, size: number) => {
    const { data, width, height, channels } = decode(discPng(shape, size))
    expect([width, height, channels]).toEqual([size, size, 4])
    return (x: number, y: number) => data[(y * size + x) * 4 + 3]
  }

  test('is full, a ring, or a ring with a stroke, on a clear ground', () => {
    for (const [shape, centre] of [
      ['full', 255],
      ['ring', 0],
      ['struck', 255],
      ['dotted', 0],
    ] as const) {
      const alpha = alphaAt(shape, 33)
      expect([shape, alpha(16, 16)]).toEqual([shape, centre])
      expect(alpha(0, 0)).toBe(0)
    }
    // 12 pixels right of the centre: on the ring (radius 13.9, stroke 4).
    expect(alphaAt('ring', 33)(28, 16)).toBe(255)
    // The stroke runs from the lower left to the upper right.
    expect(alphaAt('struck', 33)(22, 10)).toBe(255)
    expect(alphaAt('struck', 33)(22, 22)).toBe(0)
  })

  test('dots cover half of the ring', () => {
    const covered = (shape: Shape) => {
      const alpha = alphaAt(shape, 64)
      let sum = 0
      for (let y = 0; y < 64; y++) for (let x = 0; x < 64; x++) sum += alpha(x, y) / 255
      return sum
    }
    expect(covered('dotted') / covered('ring')).toBeCloseTo(0.5, 1)
    // π (r² − (r − s)²) with r = 0.42 × 64 and s = 0.12 × 64, within 2 %.
    expect(covered('ring') / (Math.PI * (26.88 ** 2 - 19.2 ** 2))).toBeCloseTo(1, 1)
  })
})

describe('the night that is followed', () => {
  beforeEach(() => void vi.useFakeTimers())
  afterEach(() => void vi.useRealTimers())

  test('is asked for once however many frames land at once, and again after the next', async () => {
    let tell = (_event: EngineEvent) => {}
    const ask = vi.fn(async () => night({}))
    const engine = { state: 'ready', ask, listen: (listener: typeof tell) => (tell = listener) }
    const views: unknown[] = []
    followNight(engine as unknown as EngineKeeper).follow(({ tonight }) => views.push(tonight?.runs.length ?? null))
    expect(views).toEqual([null])
    for (let i = 0; i < 50; i++) tell({ event: 'landed' } as EngineEvent)
    await vi.advanceTimersByTimeAsync(1_000)
    expect(ask).toHaveBeenCalledTimes(1)
    tell({ event: 'changed', what: ['library'] })
    await vi.advanceTimersByTimeAsync(5_000)
    expect(ask).toHaveBeenCalledTimes(1)
    tell({ event: 'changed', what: ['night'] })
    await vi.advanceTimersByTimeAsync(1_000)
    expect(ask).toHaveBeenCalledTimes(2)
    expect(views).toEqual([null, 1, 1])
  })

  test('stays as it was last seen while the engine is away', async () => {
    let tell = (_event: EngineEvent) => {}
    const ask = vi.fn<() => Promise<Tonight>>(async () => night({}))
    const engine = { state: 'ready', ask, listen: (listener: typeof tell) => (tell = listener) }
    const views: unknown[] = []
    followNight(engine as unknown as EngineKeeper, { pauseMs: 10 }).follow((view) =>
      views.push([view.engine, view.tonight?.runs.length]),
    )
    tell({ event: 'engine', state: 'ready' })
    await vi.advanceTimersByTimeAsync(10)
    tell({ event: 'engine', state: 'lost' })
    ask.mockRejectedValue(new Error('away'))
    tell({ event: 'landed' } as EngineEvent)
    await vi.advanceTimersByTimeAsync(10)
    expect(views.slice(2)).toEqual([
      ['ready', 1],
      ['lost', 1],
      ['ready', 1],
    ])
  })
})

test('the arguments of the command line are read, and those of Chromium left alone', () => {
  expect(
    readArguments(['electron', '.', '--data', '/d', '--watch', '/a', '--watch=/b', '--inspect', '--lang=de']),
  ).toEqual({
    dataDir: '/d',
    folders: ['/a', '/b'],
    quietly: false,
  })
  expect(readArguments(['electron', '.']).folders).toEqual([])
})

vi.mock('electron', () => ({ app: {}, Notification: class {} }))

describe('what dawn says', () => {
  const dawnAt = '2026-11-21T05:20:00.000Z'
  const row = (urgency: string, lights: number) => ({ urgency, lights })
  const at = (now: string, shortfall: object[], sun: object | null = { dawnAt }) =>
    dawnWord({ now, sun, shortfall } as unknown as Tonight)

  test('once the Sun comes near: what cannot be shot any more once the rig is touched', () => {
    const losing = [row('beforeTeardown', 12), row('actNow', 12), row('anyTime', 40)]
    expect(at('2026-11-21T05:20:00.000Z', losing)).toBe(
      '2 runs of flats and dark flats still to be shot before the rig is touched; 12 lights need them.',
    )
    expect(at('2026-11-21T05:19:59.000Z', losing)).toBeNull()
    expect(at('2026-11-21T08:20:00.000Z', losing)).toBeNull()
  })

  test('nothing for what can wait, on a night that lacks nothing, or where no Sun is known', () => {
    expect(at('2026-11-21T06:00:00.000Z', [row('anyTime', 3)])).toBeNull()
    expect(at('2026-11-21T06:00:00.000Z', [])).toBeNull()
    expect(at('2026-11-21T06:00:00.000Z', [row('actNow', 3)], null)).toBeNull()
    expect(at('2026-11-21T06:00:00.000Z', [row('actNow', 1)])).toMatch(/^1 run .*1 light needs them/)
  })

  test('a notice leads to the run of its frames, or to Tonight', () => {
    const runs = [
      { id: 'a b', frameIds: [1, 2] },
      { id: 'c', frameIds: [3] },
    ] as Tonight['runs']
    expect(placeOf({ frameIds: [2] }, { runs })).toBe('#/tonight?run=a%20b')
    expect(placeOf({ frameIds: [] }, { runs })).toBe('#/tonight')
    expect(placeOf({ frameIds: [9] }, { runs })).toBe('#/tonight')
  })
})

// "Desktop Entry Specification" (freedesktop.org), "The Exec key": a literal backslash in a quoted argument is written with
// four, a dollar sign as \\\\$ with two, and a percent sign doubled.
test('a desktop entry quotes what a path may hold', () => {
  const exec = /^Exec=(.*)$/m.exec(desktopEntry(['/opt/night shelf/run', '--data', '/a"b\\c$d%e']))?.[1]
  expect(exec).toBe(String.raw`"/opt/night shelf/run" "--data" "/a\\"b\\\\c\\$d%%e"`)
})
