import { describe, expect, test } from 'vitest'
import type { Answer, BuildGroup } from '../../../../main/contract/index.ts'
import { Refusal } from '../../../../main/contract/refusal.ts'
import { Client } from '../../../../renderer/client/client.svelte.ts'
import { Troubles } from '../../../../renderer/client/troubles.svelte.ts'
import { BuildsState } from '../../../../renderer/places/builds/builds.svelte.ts'
import { groupCount, groupLack, groupTitle, progressText } from '../../../../renderer/places/builds/words.ts'
import { plain } from '../../../../renderer/parts/format.ts'
import { masters, settings } from '../../support/night.ts'
import { FakeTransport, settled } from '../../support/transport.ts'

const group = (id: string, more: Partial<BuildGroup> = {}): BuildGroup => ({
  id,
  kind: 'dark',
  settings,
  have: 20,
  need: 10,
  state: 'ready',
  reason: null,
  frameIds: [1, 2, 3],
  leftOut: [{ frameId: 9, path: '/capture/dark_0009.fits', reason: 'Light got in.' }],
  darkFlat: null,
  method: 'Sigma-clipped mean',
  unmeasured: 0,
  firstAt: null,
  lastAt: null,
  ...more,
})
const darkFlat = group('df', { kind: 'darkFlat' })
const flat = group('f', { kind: 'flat', darkFlat: { master: null, group: 'df' } })
const waiting = group('w', { state: 'waiting', have: 4, reason: 'Six more are needed.' })

function begin(replies: FakeTransport['replies'] = {}) {
  const transport = new FakeTransport({
    builds: () => ({ groups: [darkFlat, flat, waiting], running: null }),
    ...replies,
  })
  const troubles = new Troubles()
  const builds = new BuildsState(new Client(transport), troubles)
  const end = builds.start()
  transport.welcome()
  return { transport, troubles, builds, end }
}
const progress = { event: 'progress', job: 'build', title: 'Dark', leftS: 10, text: null } as const

describe('what is ready to be built', () => {
  test('all that are ready are chosen; what waits stands by itself', async () => {
    const { builds } = begin()
    await settled()
    expect(builds.chosen.map(({ id }) => id)).toEqual(['df', 'f'])
    expect(builds.waiting.map(({ id }) => id)).toEqual(['w'])
  })

  test('a group can be taken off, but not the dark flat of a flat that is built', async () => {
    const { builds } = begin()
    await settled()
    builds.toggle('df')
    expect(builds.chosen.map(({ id }) => id)).toEqual(['df', 'f'])
    builds.toggle('f')
    expect(builds.chosen).toEqual([])
    builds.toggle('df')
    expect(builds.chosen.map(({ id }) => id)).toEqual(['df'])
  })

  test('a frame put back by hand is planned with, and goes into the build', async () => {
    const { builds, transport } = begin({ startBuild: () => ({ job: 'build', outcome: { built: [], waiting: [] } }) })
    await settled()
    builds.keep(9, true)
    expect(builds.ready.length).toBe(2)
    await settled()
    expect(transport.asked.at(-1)).toEqual({ request: 'builds', input: { keep: [9] } })
    await builds.build()
    expect(transport.asked.find(({ request }) => request === 'startBuild')?.input).toEqual({
      groups: ['df', 'f'],
      keep: [9],
      wait: true,
    })
  })

  test('it is planned anew when frames land, and no more once the page is left', async () => {
    const { transport, end } = begin()
    await settled()
    transport.tell({ event: 'changed', what: ['night'] })
    await settled()
    expect(transport.asked.length).toBe(2)
    end()
    transport.tell({ event: 'changed', what: ['night'] })
    await settled()
    expect(transport.asked.length).toBe(2)
    expect(transport.listeners).toBe(1)
  })
})

describe('a build', () => {
  test('shows how far it is, whoever began it, and then what it came to', async () => {
    let finish!: (answer: Answer<'startBuild'>) => void
    const { builds, transport } = begin({ startBuild: () => new Promise((resolve) => (finish = resolve)) })
    await settled()
    transport.tell({ ...progress, done: 0, total: 45, state: 'running' })
    expect(builds.running).toBe(true)
    transport.tell({ ...progress, done: 45, total: 45, state: 'done' })
    expect(builds.running).toBe(false)
    const built = builds.build()
    expect(builds.running).toBe(true)
    finish({ job: 'build', outcome: { built: [{ ...masters[0]!, rejected: [] }], waiting: [] } })
    await built
    expect(builds.running).toBe(false)
    expect(builds.outcome?.built.map(({ id }) => id)).toEqual([3])
  })

  test('other long work is none of its business', async () => {
    const { builds, transport } = begin()
    await settled()
    transport.tell({ ...progress, job: 'verify', done: 1, total: 2, state: 'running' })
    expect(builds.running).toBe(false)
  })

  test('stopped by hand, it says what stays, and that is no trouble', async () => {
    let fail!: (error: Error) => void
    const sentence = 'The build was stopped: what was finished stays, and of the rest nothing is left.'
    const { builds, troubles } = begin({
      startBuild: () => new Promise((_, reject) => (fail = reject)),
      stopBuild: () => {
        fail(new Refusal('Measuring was stopped.'))
        return { stopped: true }
      },
    })
    await settled()
    const built = builds.build()
    await builds.stop()
    await built
    expect(builds.stoppedText).toBe(sentence)
    expect(troubles.list).toEqual([])
    expect(builds.running).toBe(false)
  })

  test('refused, it is a trouble in a sentence', async () => {
    const { builds, troubles } = begin({
      startBuild: () => Promise.reject(new Refusal('A build is running already: wait until it is done, or stop it.')),
    })
    await settled()
    await builds.build()
    expect(troubles.list.map(({ text }) => text)).toEqual([
      'A build is running already: wait until it is done, or stop it.',
    ])
  })
})

describe('its words', () => {
  test('say what the master will be: flats by filter, the others by exposure', () => {
    expect(groupTitle(flat)).toBe('Flat, dual-band')
    expect(plain(groupTitle(darkFlat))).toBe('Dark flat, 300 s')
  })

  test('say what goes in, what stays out and what is lacking', () => {
    expect(plain(groupCount(darkFlat))).toBe('20 dark flats go in, 1 stays out')
    expect(plain(groupCount({ ...darkFlat, have: 1, leftOut: [] }))).toBe('1 dark flat goes in')
    expect(groupLack(waiting)).toBe('4 of 10 there: 6 still to be shot')
  })

  test('tell pace and time left: 33 frames in 10 s are 3.3 a second', () => {
    expect(plain(progressText({ ...progress, done: 12, total: 45, state: 'running' }))).toBe(
      '12 of 45 frames, 3.3 frames/s, about 10 s left',
    )
    expect(plain(progressText({ ...progress, done: 0, total: 45, leftS: null, state: 'running' }))).toBe(
      '0 of 45 frames',
    )
    expect(progressText({ ...progress, done: 0, total: 0, leftS: null, state: 'running' })).toBe(
      'looking at the frames first',
    )
  })
})
