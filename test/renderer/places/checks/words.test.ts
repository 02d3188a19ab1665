import { describe, expect, test } from 'vitest'
import type { DarkCheckAnswer, Master, Run } from '../../../../main/contract/index.ts'
import { checkFigures, findingText, mayCheck } from '../../../../renderer/places/checks/words.ts'
import { plain } from '../../../../renderer/parts/format.ts'

test('a finding says what, how much and where', () => {
  expect(plain(findingText({ what: 'shadow-new', where: { x: 1200, y: 800 }, sizePx: 90, depth: 0.021 }))).toBe(
    'A new dust shadow: 2.1 %, at 1200, 800 px, 90 px across',
  )
  expect(plain(findingText({ what: 'pedestal', where: null, sizePx: null, depth: -39.96 }))).toBe(
    'The black level moved: -40.0 ADU',
  )
})

test('the figures of a dark say what is not there in words', () => {
  const figures = {
    pedestalAdu: 0.4,
    signalRatio: null,
    glowRatio: null,
    glowPeakAdu: null,
    hotKept: 90,
    hotGone: 2,
    hotNew: 5,
    noiseAdu: 22,
  }
  const said = checkFigures({ kind: 'dark', figures: figures as object } as DarkCheckAnswer)
  expect(said.map(({ name, value }) => plain(`${name}: ${value}`))).toEqual([
    'step of the black level: 0.4 ADU',
    'dark signal against then: too few hot pixels',
    'glow against then: no glow to be seen',
    'hot pixels as before: 90 of 92',
    'newly hot, cosmic rays among them: 5',
    'noise of one pixel: 22.0 ADU',
  ])
})

describe('frames that may be held against a master', () => {
  const settings = { camera: 'Heron 11C', gain: 100, offset: 30, exposureS: 300, filter: null }
  const run = { ...settings, kind: 'dark', aside: false } as Run
  const nothingElse = { body: null, readout: null, binning: null, width: null, height: null }
  const master = { ...settings, ...nothingElse } as Master

  test('have its exposure and gain; what is unknown on one side is left to the engine', () => {
    expect(mayCheck(run, 'dark', master)).toBe(true)
    expect(mayCheck({ ...run, exposureS: 300.2 }, 'dark', master)).toBe(true)
    expect(mayCheck({ ...run, exposureS: 301 }, 'dark', master)).toBe(false)
    expect(mayCheck({ ...run, gain: 0 }, 'dark', master)).toBe(false)
    expect(mayCheck({ ...run, gain: null }, 'dark', master)).toBe(true)
  })

  test('are covered frames for a dark, whatever their label, and flats of any exposure for a flat', () => {
    expect(mayCheck({ ...run, kind: 'darkFlat' }, 'dark', master)).toBe(true)
    expect(mayCheck({ ...run, kind: 'flat' }, 'dark', master)).toBe(false)
    expect(mayCheck({ ...run, kind: 'flat', exposureS: 3, gain: 0 }, 'flat', master)).toBe(true)
    expect(mayCheck({ ...run, aside: true }, 'dark', null)).toBe(false)
  })
})
