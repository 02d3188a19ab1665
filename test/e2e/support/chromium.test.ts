import { expect, test } from 'vitest'
import { findChromium } from './chromium.ts'

test('a browser named by the user is taken, and one that is not there is said to be missing', () => {
  expect(findChromium({ CHROMIUM_PATH: process.execPath })).toBe(process.execPath)
  expect(() => findChromium({ CHROMIUM_PATH: '/nowhere/chromium' })).toThrow('no such file')
})
