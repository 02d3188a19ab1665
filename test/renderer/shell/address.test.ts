import { expect, test } from 'vitest'
import { pageOf, parseAddress, toFinding } from '../../../renderer/shell/address.ts'

test.each([
  ['', { place: 'tonight' }],
  ['#t=AbC-_9', { place: 'tonight' }],
  ['#/tonight', { place: 'tonight' }],
  ['#/glance', { place: 'glance' }],
  ['#/tonight?glance', { place: 'glance' }],
  ['#/shelf', { place: 'shelf', master: null, find: '' }],
  ['#/shelf/12', { place: 'shelf', master: 12, find: '' }],
  ['#/shelf?find=dark%20300', { place: 'shelf', master: null, find: 'dark 300' }],
  ['#/flats', { place: 'flats' }],
  ['#/nights', { place: 'nights', night: null, find: '' }],
  ['#/nights?find=heart%201', { place: 'nights', night: null, find: 'heart 1' }],
  ['#/nights/2026-11-20', { place: 'nights', night: '2026-11-20', find: '' }],
  ['#/settings', { place: 'settings', page: null }],
  ['#/settings/sensors', { place: 'settings', page: 'sensors' }],
  ['#/frame/214', { place: 'frame', id: 214 }],
  ['#/view/frame/214', { place: 'view', of: 'frame', id: 214 }],
  ['#/view/master/3', { place: 'view', of: 'master', id: 3 }],
])('the address %s is read', (hash, address) => {
  expect(parseAddress(hash)).toEqual(address)
})

test.each([
  '#/frame',
  '#/frame/x',
  '#/frame/0',
  '#/nights/yesterday',
  '#/flats/3',
  '#/settings/rigs',
  '#/elsewhere',
  '#/shelf/1/2',
  '#/view/frame',
  '#/view/check/3',
  '#/view/frame/3/4',
  '#x',
])('the address %s leads nowhere, and says so instead of guessing', (hash) => {
  expect(parseAddress(hash).place).toBe('nowhere')
})

test('words being typed into the search stay on the same page', () => {
  expect(pageOf(parseAddress(toFinding('flat dark')))).toBe(pageOf(parseAddress('#/shelf')))
  expect(pageOf(parseAddress(toFinding('heart', 'nights')))).toBe(pageOf(parseAddress('#/nights')))
  expect(pageOf(parseAddress('#/shelf/1'))).not.toBe(pageOf(parseAddress('#/shelf/2')))
})
