import { beforeEach, expect, test, vi } from 'vitest'
import { Refusal } from '../../../main/contract/refusal.ts'
import type { Answer } from '../../../main/contract/index.ts'
import { Client } from '../../../renderer/client/client.svelte.ts'
import { Disconnected } from '../../../renderer/client/transport.ts'
import type { FromImageWorker, ToImageWorker } from '../../../renderer/viewer/messages.ts'
import { ImageState } from '../../../renderer/viewer/image.svelte.ts'
import { rowsText, valueText } from '../../../renderer/viewer/words.ts'
import { FakeTransport, settled } from '../support/transport.ts'

/** What a person sees of an image that is being opened, is broken, too large, or out of reach. */

const worker = {
  told: [] as ToImageWorker[],
  postMessage(message: ToImageWorker) {
    this.told.push(message)
  },
  onmessage: (_: { data: FromImageWorker }) => {},
  terminate() {},
}
vi.mock('../../../renderer/viewer/image-worker.ts', () => ({
  libraryAddress: 'http://host/fits.js',
  createImageWorker: () => worker,
}))
beforeEach(() => void (worker.told = []))
const hear = (data: FromImageWorker) => worker.onmessage({ data })
const told = <D extends ToImageWorker['do']>(what: D) =>
  worker.told.filter((message): message is Extract<ToImageWorker, { do: D }> => message.do === what)

const layout = {
  width: 60,
  height: 40,
  planes: 1,
  bitpix: 16,
  zero: 32_768,
  scale: 1,
  blank: null,
  offset: 2880,
} as const
const answer: Answer<'image'> = {
  layout: { ...layout, fileBytes: 8640 },
  cfa: null,
  rowOrder: null,
  unit: 'adu',
  electronsPerAdu: null,
  fullScaleAdu: null,
  targetAdu: null,
  cards: [],
}
const levels = { median: 5, noise: 1, min: 0, max: 9 } as never

function open(image: () => Answer<'image'> | Promise<Answer<'image'>>) {
  const transport = new FakeTransport({ image })
  const state = new ImageState(new Client(transport), 'frame', 3)
  const stop = state.start({ transferControlToOffscreen: () => ({}) } as HTMLCanvasElement)
  return { transport, state, stop }
}

test('a file that is broken or gone is refused in its own sentence, and opened by "Try again" once it is whole', async () => {
  let refusal: Error | null = new Refusal('This file is cut off, 60 % of it is there: copy it again.')
  const { transport, state } = open(() => {
    if (refusal) throw refusal
    return answer
  })
  transport.welcome()
  await settled()
  expect(state.failure).toBe('This file is cut off, 60 % of it is there: copy it again.')
  expect(told('open')).toEqual([])
  refusal = null
  await state.open()
  expect(state.failure).toBeNull()
  expect(told('open')).toHaveLength(1)
})

test('an image that the window cannot hold is not fetched: it says how large it is, and where its figures stand', async () => {
  const { transport, state } = open(() => ({ ...answer, layout: { ...answer.layout, width: 40_000, height: 40_000 } }))
  transport.welcome()
  await settled()
  expect(state.failure?.replaceAll(/[\u00a0\u202f]/g, ' ')).toBe(
    'This image of 40 000 × 40 000 pixels takes 3200 MB of memory, and the window holds 1074 MB at most: its figures and its header stand on its page.',
  )
  expect(told('open')).toEqual([])
})

test('without a connection nothing is called a failure: the picture comes by itself once it is back', async () => {
  let reachable = false
  const { transport, state } = open(() => (reachable ? answer : Promise.reject(new Disconnected('gone'))))
  await settled()
  expect([state.failure, told('open').length]).toEqual([null, 0])
  transport.welcome()
  await settled()
  expect([state.failure, told('open').length]).toEqual([null, 0])
  reachable = true
  transport.become({ at: 'offline', retryAt: 0 })
  transport.welcome()
  await settled()
  expect(told('open')).toHaveLength(1)
})

test('pixels that stop in the middle are a failure that a new connection heals, from the first row on', async () => {
  const { transport, state } = open(() => answer)
  transport.welcome()
  await settled()
  hear({ say: 'progress', rows: 20 })
  hear({ say: 'failed', text: 'The connection to Nightshelf was lost while the pixels came.' })
  expect([state.failure, state.rows]).toEqual(['The connection to Nightshelf was lost while the pixels came.', 20])
  transport.become({ at: 'offline', retryAt: 0 })
  transport.welcome()
  await settled()
  expect([state.failure, state.rows, told('open').length]).toEqual([null, 0, 2])
})

test('a pixel whose row has not come is not read yet, and is asked for again as rows come', async () => {
  const { transport, state } = open(() => answer)
  state.resize({ width: 60, height: 40 })
  transport.welcome()
  await settled()
  hear({ say: 'progress', rows: 10 })
  expect(told('value')).toEqual([{ do: 'value', x: 30, y: 20 }])
  hear({ say: 'value', x: 30, y: 20, value: null })
  expect(valueText(state.value!.value, answer, state.value!.y, state.rows)).toBe('not read yet')
  hear({ say: 'levels', levels })
  expect(told('value')).toHaveLength(2)
  expect(state.rows).toBe(40)
  expect(valueText(null, answer, 20, state.rows)).toBe('no value')
})

test('where the first row stands at the bottom, the pixel under a point is counted from there', async () => {
  const upwards = { ...answer, rowOrder: 'BOTTOM-UP' }
  const { transport, state } = open(() => upwards)
  state.resize({ width: 60, height: 40 })
  transport.welcome()
  await settled()
  expect(told('open')[0]).toMatchObject({ bottomUp: true })
  state.point({ x: 5.5, y: 0.5 })
  expect(told('value').at(-1)).toEqual({ do: 'value', x: 5, y: 39 })
  expect(rowsText('BOTTOM-UP')).toBe('Row 1 is drawn at the bottom, as the header says (BOTTOM-UP).')
})
