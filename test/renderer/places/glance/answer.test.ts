import { expect, test } from 'vitest'
import { answersOf, blocksOf } from '../../../../renderer/places/glance/answer.ts'
import { frame, notices, tonight, verdict } from '../../support/night.ts'

const [entry] = tonight.latest as [(typeof tonight.latest)[number]]
const folders = tonight.folders
const words = (verdicts: Parameters<typeof answersOf>[0]['verdicts'], more = {}) =>
  answersOf({ frame: { ...frame, ...more }, verdicts }).map((answer) => `${answer.shape}: ${answer.words}`)

test('what lacks nothing is matched, in one word', () => {
  expect(words({ dark: verdict('matched', ''), flat: verdict('matched', '') })).toEqual(['matched: Matched'])
})

test('what is lacking is named, worst first, and what is matched is left out', () => {
  expect(words({ dark: verdict('matched', ''), flat: verdict('due', '') })).toEqual(['due: Flat due'])
  expect(words({ dark: verdict('near', ''), flat: verdict('lost', '') })).toEqual([
    'lost: Flat lost',
    'near: Dark near',
  ])
  expect(words({ darkFlat: verdict('due', '') }, { kind: 'flat' })).toEqual(['due: Dark flat due'])
})

test('a frame that needs nothing says what it is', () => {
  expect(words({}, { kind: 'dark' })).toEqual(['logged: Dark logged'])
  expect(words({}, { aside: true })).toEqual(['logged: Set aside'])
  expect(words({}, { state: 'broken' })).toEqual(['stopped: Broken frame'])
})

test('from the top: what stops us, what must be done now, then each rig with its name', () => {
  const urgent = [{ ...notices[0]!, text: 'Shoot the flats now.' }, notices[1]!]
  const roof = { ...entry, rig: 'Roof', frame: { ...frame, rig: 'Roof' } }
  const blocks = blocksOf(
    { latest: [entry, roof], urgent, folders: [{ path: '/capture', reachable: false }] },
    'engine',
  )
  expect(blocks.map(({ answers, detail }) => [answers[0]!.words, detail])).toEqual([
    ['Restarting', 'The engine is being started again; below is what it said last.'],
    ['Folder gone', '/capture'],
    ['Act now', 'Shoot the flats now. (and 1 more)'],
    ['Flat due', expect.stringMatching(/^Hill pier · \d\d:49 · light 37 · Heart 1 · dual-band · 300\u00a0s$/)],
    ['Flat due', expect.stringMatching(/^Roof · /)],
  ])
})

test('one rig alone goes without its name, and no frame at all is said', () => {
  expect(blocksOf({ latest: [entry], urgent: [], folders }, null)[0]!.detail).not.toContain('Hill pier')
  expect(blocksOf({ latest: [], urgent: [], folders }, null)[0]!.answers[0]!.words).toBe('No frame yet')
  expect(blocksOf({ latest: [], urgent: [], folders }, 'host')[0]!.answers[0]!.words).toBe('No contact')
})
