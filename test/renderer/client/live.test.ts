import { expect, test, vi } from 'vitest'
import { Refusal } from '../../../main/contract/refusal.ts'
import { Client } from '../../../renderer/client/client.svelte.ts'
import { Live } from '../../../renderer/client/live.svelte.ts'
import { Troubles, sentenceFor } from '../../../renderer/client/troubles.svelte.ts'
import { Disconnected } from '../../../renderer/client/transport.ts'
import { FakeTransport, settled } from '../support/transport.ts'

const night = { night: '2026-11-20', lights: 1, lightS: 300, frames: 1 }

test('nothing is asked before somebody listens, and again whenever the engine is back', async () => {
  const transport = new FakeTransport({ nights: () => ({ nights: [night] }) })
  const client = new Client(transport)
  const live = new Live(client, 'nights', {}, ['night'])
  const stop = live.start()
  expect(transport.asked).toHaveLength(0)
  transport.welcome()
  await settled()
  expect(live.answer).toEqual({ nights: [night] })
  transport.tell({ event: 'engine', state: 'lost' })
  expect(client.usable).toBe(false)
  transport.tell({ event: 'engine', state: 'ready' })
  await settled()
  expect(transport.asked).toHaveLength(2)
  stop()
  expect(transport.listeners).toBe(1)
})

test('a burst of changes makes one more question, not one each; other topics make none', async () => {
  const transport = new FakeTransport({ nights: async () => (await settled(), { nights: [] }) })
  const live = new Live(new Client(transport), 'nights', {}, ['night'])
  live.start()
  transport.welcome()
  for (let burst = 0; burst < 80; burst++) transport.tell({ event: 'changed', what: ['night'] })
  await settled()
  await settled()
  await settled()
  expect(transport.asked).toHaveLength(2)
  transport.tell({ event: 'changed', what: ['library'] })
  await settled()
  expect(transport.asked).toHaveLength(2)
})

test('an answer stays on the page while a later question fails, with the sentence that says why', async () => {
  const transport = new FakeTransport({ nights: () => ({ nights: [night] }) })
  const live = new Live(new Client(transport), 'nights', {}, ['night'])
  live.start()
  transport.welcome()
  await settled()
  transport.replies.nights = () => Promise.reject(new Refusal('The log cannot be read: free some room on its disk.'))
  transport.tell({ event: 'changed', what: ['night'] })
  await settled()
  expect(live.answer).toEqual({ nights: [night] })
  expect(live.failure).toBe('The log cannot be read: free some room on its disk.')
})

test('errors become one sentence each: a refusal as it is, the rest with what was being done and what to do', () => {
  expect(sentenceFor(new Refusal('No such folder: check its name.'), 'adding the folder')).toBe(
    'No such folder: check its name.',
  )
  expect(sentenceFor(new Disconnected(), 'adding the folder')).toContain('while adding the folder')
  expect(sentenceFor(new TypeError('x is null'), 'adding the folder')).toMatch(
    /mistake while adding .*x is null.*try again/,
  )
})

test('what goes wrong is shown once until it is put away', async () => {
  const troubles = new Troubles()
  const fail = () => Promise.reject(new Refusal('No.'))
  expect(await troubles.attempt('trying', fail)).toBeUndefined()
  await troubles.attempt('trying', fail)
  expect(troubles.list.map(({ text }) => text)).toEqual(['No.'])
  troubles.dismiss(troubles.list[0]!.id)
  expect(troubles.list).toEqual([])
  expect(await troubles.attempt('trying', async () => 7)).toBe(7)
})

test('a place that is opened again has its last answer at once, while a fresh one is on its way', async () => {
  const transport = new FakeTransport({ nights: () => ({ nights: [night] }) })
  const client = new Client(transport)
  const first = new Live(client, 'nights', {}, ['night'])
  const stop = first.start()
  transport.welcome()
  await settled()
  stop()
  const second = new Live(client, 'nights', {}, ['night'])
  expect(second.answer).toEqual({ nights: [night] })
  expect(new Live(client, 'tonight', {}, ['night']).answer).toBeUndefined()
  second.start()
  await settled()
  expect(transport.asked).toHaveLength(2)
})

test('changes that go on and on are asked about after a pause, the last one for certain', async () => {
  vi.useFakeTimers()
  try {
    let version = 0
    const transport = new FakeTransport({ nights: () => ({ nights: [{ ...night, frames: version }] }) })
    const live = new Live(new Client(transport), 'nights', {}, ['night'])
    const stop = live.start()
    transport.welcome()
    for (version = 1; version <= 100; version++) {
      transport.tell({ event: 'changed', what: ['night'] })
      await vi.advanceTimersByTimeAsync(60)
    }
    expect(transport.asked.length).toBeLessThan(20)
    await vi.advanceTimersByTimeAsync(500)
    expect(live.answer?.nights[0]?.frames).toBe(version)
    const asked = transport.asked.length
    await vi.advanceTimersByTimeAsync(3000)
    expect(transport.asked).toHaveLength(asked)
    transport.tell({ event: 'changed', what: ['night'] })
    expect(transport.asked).toHaveLength(asked + 1)
    stop()
  } finally {
    vi.useRealTimers()
  }
})
