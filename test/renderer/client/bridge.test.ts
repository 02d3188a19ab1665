import { expect, test } from 'vitest'
import { Refusal } from '../../../main/contract/refusal.ts'
import type { NightshelfBridge } from '../../../main/contract/wire.ts'
import { BridgeTransport } from '../../../renderer/client/bridge.ts'

const bridge = (reply: unknown) =>
  ({ ask: { nights: async () => reply }, listen: () => () => {} }) as unknown as NightshelfBridge

test('through the preload the same answers, refusals and faults come out as through the socket', async () => {
  expect(await new BridgeTransport(bridge({ answer: { nights: [] } })).ask('nights', {})).toEqual({ nights: [] })
  await expect(new BridgeTransport(bridge({ refused: 'Not now.' })).ask('nights', {})).rejects.toBeInstanceOf(Refusal)
  await expect(new BridgeTransport(bridge({ failed: 'x' })).ask('nights', {})).rejects.not.toBeInstanceOf(Refusal)
})

test('Electron’s host is always there', () => {
  let at = ''
  new BridgeTransport(bridge({})).watch((connection) => (at = connection.at))
  expect(at).toBe('ready')
})
