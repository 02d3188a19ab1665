import { expect, test } from 'vitest'
import { Client } from '../../../../renderer/client/client.svelte.ts'
import { withoutNeeds } from '../../../../renderer/places/tonight/band.ts'
import { TonightState } from '../../../../renderer/places/tonight/tonight.svelte.ts'
import { frame, tonight, verdict } from '../../support/night.ts'
import { FakeTransport, settled } from '../../support/transport.ts'

async function setUp(answer = tonight) {
  const transport = new FakeTransport({ tonight: () => answer })
  const state = new TonightState(new Client(transport))
  state.start()
  transport.welcome()
  await settled()
  return { transport, state }
}

const landed = (id: number, rig = frame.rig) =>
  ({
    event: 'landed',
    frame: { ...frame, id, rig },
    verdicts: { dark: verdict('due', 'none yet') },
    number: 38,
  }) as const

test('a frame that lands is on the page at once, before anything is asked again', async () => {
  const { transport, state } = await setUp()
  transport.tell(landed(215))
  expect(transport.asked).toHaveLength(1)
  expect(state.latest.map(({ frame, number }) => [frame.id, number])).toEqual([[215, 38]])
  expect(state.latest[0]!.verdicts.dark!.verdict).toBe('due')
})

test('an answer that is older than what landed since does not put the older frame back', async () => {
  const { transport, state } = await setUp()
  transport.tell(landed(215))
  transport.tell({ event: 'changed', what: ['night'] })
  await settled()
  expect(transport.asked).toHaveLength(2)
  expect(state.latest[0]!.frame.id).toBe(215)
})

test('an answer about the same frame is the fresher one: a master may have come since', async () => {
  const { transport, state } = await setUp()
  transport.tell(landed(214))
  expect(state.latest[0]!.verdicts.dark!.verdict).toBe('matched')
})

test('each rig keeps a band of its own', async () => {
  const { transport, state } = await setUp()
  transport.tell(landed(215, 'Roof'))
  expect(state.latest.map(({ rig }) => rig)).toEqual(['Hill pier', 'Roof'])
})

test('notices stand newest first, acknowledged ones apart; rows to shoot in order of urgency', async () => {
  const { state } = await setUp({
    ...tonight,
    shortfall: tonight.shortfall.toReversed(),
    notices: tonight.notices.toReversed(),
  })
  expect(state.openNotices.map(({ id }) => id)).toEqual(['n1', 'n2'])
  expect(state.seenNotices.map(({ id }) => id)).toEqual(['n3'])
  expect(state.toShoot.map(({ urgency, rows }) => [urgency, rows.length])).toEqual([
    ['beforeTeardown', 2],
    ['anyTime', 1],
  ])
  expect(state.urgentNotices).toEqual([])
})

test('a frame that needs nothing says what it is', () => {
  expect(withoutNeeds({ ...frame, kind: 'dark' })).toBe('A dark, logged for the shelf')
  expect(withoutNeeds({ ...frame, aside: true, asideWhy: 'focus in its name' })).toBe(
    'Aside (focus in its name): needs no calibration',
  )
  expect(withoutNeeds({ ...frame, state: 'broken' })).toBe('This file is broken: shoot the frame again.')
})
