import { describe, expect, test } from 'vitest'
import * as format from '../../../renderer/parts/format.ts'

const plain = format.plain

describe('numbers and units', () => {
  test.each([
    [300, '300 s'],
    [3.5, '3.5 s'],
    [0.0125, '0.0125 s'],
    [0, '0 s'],
    [1.0004, '1 s'],
    [1200, '1200 s'],
  ])('an exposure of %d s is written as it is typed', (seconds, text) => {
    expect(plain(format.exposure(seconds))).toBe(text)
  })

  test('a temperature has a true minus sign, and never a minus before zero', () => {
    expect(format.measuredTemp(-9.94)).toBe('−9.9\u00a0°C')
    expect(format.measuredTemp(-0.04)).toBe('0.0\u00a0°C')
    expect(format.setTemp(-10)).toBe('−10\u00a0°C')
  })

  test('large numbers are grouped with a space that does not break', () => {
    expect(format.number(28_000)).toBe('28\u202f000')
    expect(format.number(4144)).toBe('4144')
    expect(format.number(-1_234_567.5, 1)).toBe('−1\u202f234\u202f567.5')
  })

  test('one of a thing is not many of them', () => {
    expect(plain(format.counted(1, 'light'))).toBe('1 light')
    expect(plain(format.counted(0, 'light'))).toBe('0 lights')
    expect(plain(format.counted(2, 'bias frame'))).toBe('2 bias frames')
  })

  test('a sentence of the engine does not end a line between a number and its unit, and is else left alone', () => {
    expect(format.unbroken('Dark of 4.5 s at −10.0 °C: 20 s, 3 %.')).toBe(
      'Dark of 4.5\u00a0s at −10.0\u00a0°C: 20\u00a0s, 3\u00a0%.',
    )
    expect(format.unbroken('25 flats, 3 sulphur, 2 months')).toBe('25 flats, 3 sulphur, 2 months')
    expect(format.unbroken('Level 27 640 ADU')).toBe('Level 27\u00a0640\u00a0ADU')
    expect(format.unbroken('20 November 2026')).toBe('20 November 2026')
  })

  test('text for the clipboard has ordinary spaces and hyphens', () => {
    expect(plain('−10\u00a0°C, 28\u202f000\u00a0ADU')).toBe('-10 °C, 28 000 ADU')
  })
})

describe('times', () => {
  test.each([
    [45, '45 s'],
    [99, '99 s'],
    [140, '2 min'],
    [2460, '41 min'],
    [15_420, '4.3 h'],
    [61 * 3600, '61 h'],
    [9.97 * 3600, '10 h'],
  ])('%d s of work are said as %s', (seconds, text) => {
    expect(plain(format.duration(seconds))).toBe(text)
  })

  test('a clock runs down in minutes and seconds, and stops at nothing', () => {
    expect(format.countdown(192_000)).toBe('3:12')
    expect(format.countdown(3_725_000)).toBe('1:02:05')
    expect(format.countdown(59_001)).toBe('1:00')
    expect(format.countdown(-5)).toBe('0:00')
  })

  test('what is left of the night is said in hours and minutes', () => {
    expect(plain(format.remaining((4 * 60 + 29) * 60_000))).toBe('4 h 29 min')
    expect(plain(format.remaining(35 * 60_000))).toBe('35 min')
  })

  test.each([
    [0, 'made today'],
    [1, '1 day old'],
    [41.9, '41 days old'],
    [430, '14 months old'],
    [1100, '3 years old'],
  ])('a master of %d days is said to be %s', (days, text) => {
    expect(plain(format.age(days))).toBe(text)
  })

  test('times are local, with UTC for those who compare logs', () => {
    expect(format.clockTime('2026-11-21T01:54:12Z', 'Europe/Berlin')).toBe('02:54')
    expect(format.clockTime('2026-11-21T00:05:00Z', 'UTC')).toBe('00:05')
    expect(format.dateAndTime('2026-11-20T23:30:00Z', 'Asia/Tokyo')).toBe('21 November 2026, 08:30')
    expect(format.utc('2026-11-21T01:54:12Z')).toBe('01:54:12 UTC, 21 November 2026')
  })

  test('a night is named by its date in every zone, and carries its year when it is long past', () => {
    expect(format.nightName('2026-11-20')).toBe('20 November 2026')
    expect(format.shortNight('2026-11-20', Date.parse('2026-11-25'))).toBe('20 November')
    expect(format.shortNight('2025-11-20', Date.parse('2026-11-25'))).toBe('20 November 2025')
  })
})
