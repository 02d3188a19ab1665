import { describe, expect, it } from 'vitest'
import { findTwins } from '../../main/match/twins.ts'
import { aLight } from './samples.ts'

const shot = (rig: string, time: string, changes = {}) =>
  aLight({ rig, startedAt: `2026-11-20T${time}:00.000Z`, ...changes })

describe('two bodies of one model', () => {
  it('are told by exposures at the same moment on two rigs', () =>
    expect(findTwins([shot('Fell End', '22:00'), shot('Roof', '22:02')])).toEqual(['Owl 26C']))

  it('are told also where a long exposure spans many short ones', () =>
    expect(
      findTwins([shot('Roof', '22:00', { exposureS: 1200 }), shot('Roof', '22:01'), shot('Fell End', '22:15')]),
    ).toEqual(['Owl 26C']))

  it.each([
    ['one camera that was carried over', [shot('Fell End', '22:00'), shot('Roof', '22:30')]],
    ['one rig alone', [shot('Roof', '22:00'), shot('Roof', '22:01')]],
    ['two models', [shot('Fell End', '22:00'), shot('Roof', '22:01', { camera: 'Heron 6' })]],
    ['bodies that the headers name', [shot('Fell End', '22:00', { body: 'A' }), shot('Roof', '22:01', { body: 'B' })]],
    ['frames of no rig', [shot('Fell End', '22:00'), aLight({ rig: null })]],
  ])('are not %s', (_, frames) => expect(findTwins(frames)).toEqual([]))
})
