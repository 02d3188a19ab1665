import { describe, expect, it } from 'vitest'
import { createEpochs, epochIdOf, touches } from '../../main/match/epochs.ts'
import { aChange, aMasterFlat } from './samples.ts'

const ms = (at: string) => Date.parse(at)
const cleaned = aChange({ id: 1, at: '2026-11-10T19:00:00Z' })
const swapped = aChange({ id: 2, at: '2026-11-15T19:00:00Z', scope: 'filter', filter: 'L' })
const rebuilt = aChange({ id: 3, at: '2026-11-20T19:00:00Z', scope: 'camera' })
const epochs = createEpochs([rebuilt, cleaned, swapped])

describe('an epoch', () => {
  it.each([
    ['before any change', 'Fell End', 'L', '2026-11-01T00:00:00Z', 'Fell End/0'],
    ['from the moment of a change on', 'Fell End', 'L', '2026-11-10T19:00:00Z', 'Fell End/1'],
    ['of the filter that was swapped', 'Fell End', 'L', '2026-11-16T00:00:00Z', 'Fell End/2'],
    ['of another filter at that time', 'Fell End', 'Ha', '2026-11-16T00:00:00Z', 'Fell End/1'],
    ['of a filter in another spelling', 'Fell End', ' l', '2026-11-16T00:00:00Z', 'Fell End/2'],
    ['after the camera was touched', 'Fell End', 'Ha', '2026-11-21T00:00:00Z', 'Fell End/3'],
    ['of another rig', 'Roof', 'L', '2026-11-21T00:00:00Z', 'Roof/0'],
    ['where no rig is known', null, 'L', '2026-11-21T00:00:00Z', null],
  ])('%s', (_, rig, filter, at, id) => expect(epochs.at(rig, filter, ms(at)).id).toBe(id))

  it('is bounded by the changes that begin and end it', () => {
    const epoch = epochs.at('Fell End', 'Ha', ms('2026-11-16T00:00:00Z'))
    expect([epoch.begunBy?.id, epoch.endedBy?.id]).toEqual([1, 3])
    expect([epoch.sinceMs, epoch.untilMs]).toEqual([ms(cleaned.at), ms(rebuilt.at)])
  })

  it('is as it was once a change has been taken back', () => {
    const undone = createEpochs([cleaned, { ...rebuilt, undoneAt: '2026-11-20T19:05:00Z' }])
    expect(undone.at('Fell End', 'Ha', ms('2026-11-21T00:00:00Z')).id).toBe('Fell End/1')
  })

  it('asks for the time only where there is more than one', () => {
    const never = () => expect.unreachable('one epoch needs no clock')
    expect(epochs.of('Roof', 'L', never).id).toBe('Roof/0')
  })

  it('does not end in weeks of cloud', () =>
    expect(epochs.at('Fell End', 'Ha', ms('2027-11-21T00:00:00Z')).id).toBe('Fell End/3'))
})

describe('the epoch of a master', () => {
  it('is told by when its flats were taken', () =>
    expect(epochIdOf(aMasterFlat({ madeAt: '2026-11-12T06:00:00Z' }), epochs)).toBe('Fell End/1'))

  it.each([
    ['of a dark', { kind: 'dark' as const }],
    ['without a date', { madeAt: null }],
    ['without a rig', { rig: null }],
  ])('is none for one %s', (_, changes) => expect(epochIdOf(aMasterFlat(changes), epochs)).toBeNull())
})

describe('a change of one filter', () => {
  it('touches every filter where it does not say which', () =>
    expect(touches(aChange({ scope: 'filter', filter: null }), 'Ha')).toBe(true))
  it('leaves flats of which the filter is unknown alone', () => expect(touches(swapped, null)).toBe(false))
})
