import { describe, expect, test } from 'vitest'
import { MAX_MESSAGE_BYTES } from '../../../main/contract/index.ts'
import { letIn, Page, stage } from '../support/headless.ts'

describe('asking', () => {
  test('a request is answered, and an event reaches every open page', async () => {
    await using host = await stage()
    const { page, session } = await letIn(host)
    const other = (await Page.greet(host.origin, { session })).page
    expect(await page.ask('nights')).toMatchObject({ answer: { nights: [{ night: '2026-11-20' }] } })
    await page.ask('watchFolder', { path: '/frames' })
    const event = { event: { event: 'changed', what: ['folders'] } }
    expect(await page.next((m) => 'event' in m)).toEqual(event)
    expect(await other.next((m) => 'event' in m)).toEqual(event)
  })

  test('a refusal arrives as its sentence, a fault of ours as one that keeps its details in the log', async () => {
    await using host = await stage()
    const { page } = await letIn(host)
    expect(await page.ask('watchFolder', { path: '/missing' })).toEqual({
      id: 1,
      refused: 'There is no folder /missing.',
    })
    const failed = await page.ask('library')
    expect(failed).toMatchObject({ failed: expect.stringContaining('log') })
    expect(JSON.stringify(failed)).not.toContain('TypeError')
    expect(host.log.join()).toContain('TypeError: masters is undefined')
  })

  test("the host's own requests, unknown ones and inherited names are refused without reaching the engine", async () => {
    await using host = await stage()
    const { page } = await letIn(host)
    for (const request of ['file', 'shutDown', 'wake', 'nothing', 'toString', '__proto__', 'constructor'])
      expect(await page.ask(request, { of: 'frame', id: 1, view: 'pixels' })).toMatchObject({
        refused: `There is no request "${request}".`,
      })
    expect(host.engine.state).toBe('ready')
  })

  test('input that does not fit the contract is refused and names the field', async () => {
    await using host = await stage()
    const { page } = await letIn(host)
    expect(await page.ask('unwatchFolder', { id: 'one' })).toMatchObject({ refused: expect.stringContaining('id') })
    expect(await page.ask('tonight', { night: 'yesterday' })).toMatchObject({
      refused: 'A night is written as its date, like 2026-11-20.',
    })
  })

  test('what is no request at all ends the connection', async () => {
    await using host = await stage()
    for (const nonsense of [
      '{',
      '[]',
      '{"id":-1,"request":"nights"}',
      '{"id":1,"request":"nights","input":{},"more":1}',
    ]) {
      const { page } = await letIn(host)
      page.send(nonsense)
      expect(await page.closed).toBe(1007)
    }
  })
})

describe('limits', () => {
  test('a message of 64 KB is read, a larger one ends the connection, before and after the hello', async () => {
    await using host = await stage()
    const { page } = await letIn(host)
    const envelope = JSON.stringify({ id: 1, request: 'watchFolder', input: { path: '' } }).length
    const reply = await page.ask('watchFolder', { path: 'x'.repeat(MAX_MESSAGE_BYTES - envelope) })
    expect(reply).toHaveProperty('answer')
    page.send('x'.repeat(MAX_MESSAGE_BYTES + 1))
    expect(await page.closed).toBe(1009)
    const stranger = (await Page.open(host.origin)) as Page
    stranger.send('x'.repeat(MAX_MESSAGE_BYTES + 1))
    expect(await stranger.closed).toBe(1009)
  })

  test('a page that asks too fast is refused for the moment, and cut off if it does not stop', async () => {
    const limits = { messages: { perS: 0.01, burst: 20 }, refusals: { perS: 0.01, burst: 10 } }
    await using host = await stage({ limits })
    const { page } = await letIn(host)
    const replies = await Promise.all(Array.from({ length: 30 }, () => page.ask('nights')))
    expect(replies.filter((reply) => 'answer' in reply)).toHaveLength(20)
    expect(replies.filter((reply) => 'refused' in reply)).toHaveLength(10)
    page.send({ id: 31, request: 'nights', input: {} })
    expect(await page.closed).toBe(4429)
  })
})
