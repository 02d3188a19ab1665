import { expect, test } from 'vitest'
import { plain } from '../../../renderer/parts/format.ts'
import { answerFor } from '../../../renderer/parts/labels.ts'
import * as lines from '../../../renderer/parts/settings.ts'
import { frame, run, shortfall } from '../support/night.ts'

test('a frame’s line has the settings that decide a match, with their units', () => {
  expect(plain(lines.settingsLine(frame).join(' · '))).toBe('300 s · gain 120 · offset 30 · -10 °C (measured -9.9 °C)')
})

test('what is not known is said to be so, never left to be guessed', () => {
  const bare = { ...frame, gain: null, offset: null, setTempC: null, sensorTempC: null, exposureS: null }
  expect(plain(lines.settingsLine(bare).join(' · '))).toBe(
    'exposure not known · gain not known · offset not known · temperature not known',
  )
})

test('a gain that is a label and a binning other than 1x1 are shown as they are', () => {
  const line = lines.settingsLine({ ...frame, gain: 'HI', binning: '2x2' })
  expect(plain(line.join(' · '))).toContain('gain HI')
  expect(plain(line.join(' · '))).toContain('binning 2x2')
})

test('a measured temperature equal to the set point is not said twice', () => {
  expect(plain(lines.temperature({ setTempC: -10, sensorTempC: -10.02 }))).toBe('-10 °C')
  expect(plain(lines.temperature({ setTempC: null, sensorTempC: -9.9 }))).toBe('-9.9 °C')
})

test('a run of lights is named by its target, a run of flats by its filter', () => {
  expect(plain(lines.runTitle(run('x', {})))).toBe('Heart 1 · dual-band · 300 s')
  expect(plain(lines.runTitle(run('x', { kind: 'flat', target: null, exposureS: 3 })))).toBe('flats · dual-band · 3 s')
  expect(plain(lines.runTitle(run('x', { kind: 'dark', target: null })))).toBe('darks · 300 s')
})

test('what is copied are plain words that can be typed in one by one', () => {
  expect(lines.copyText(shortfall[2]!)).toBe(
    [
      '20 darks (4 are there already)',
      '  120 s',
      '  gain 120',
      '  offset 50',
      '  -10 °C',
      '  Kestrel 294C',
      '  4144 × 2822 px',
      '  binning 1x1',
      '  readout mode 0',
      '  train Refractor 478 with reducer',
      '  takes about 41 min, for 22 lights, 44 min',
      '  Warm the cooler up slowly afterwards, as the camera’s maker says.',
    ].join('\n'),
  )
})

test('of several rigs it is said whose flats they are; a dark is its camera’s', () => {
  const onRoof = (row: (typeof shortfall)[number]) => ({ ...row, settings: { ...row.settings, rig: 'Roof' } })
  const details = (rigs: boolean) => shortfall.map((row) => lines.shootDetail(onRoof(row), rigs)[0])
  expect(details(true)).toEqual(['Roof', 'Roof', 'Kestrel 294C'])
  expect(details(false)).toEqual(['Kestrel 294C', 'Kestrel 294C', 'Kestrel 294C'])
})

test('everything to shoot is copied with a blank line between rows', () => {
  expect(
    lines
      .copyAllText(shortfall)
      .split('\n\n')
      .map((part) => part.split('\n')[0]),
  ).toEqual(['25 flats, dual-band', '20 dark flats', '20 darks (4 are there already)'])
})

test('an answer says when a due frame is due: darks at any time, flats before teardown', () => {
  expect(answerFor('dark', 'matched')).toBe('Dark: matched')
  expect(answerFor('dark', 'due')).toBe('Dark: due, any time')
  expect(answerFor('flat', 'due')).toBe('Flat: due before teardown')
  expect(answerFor('darkFlat', 'unconfirmed')).toBe('Dark flat: unconfirmed')
})
