import { describe, expect, test } from 'vitest'
import { Client } from '../../../../renderer/client/client.svelte.ts'
import { Troubles } from '../../../../renderer/client/troubles.svelte.ts'
import { Adding, answersFrom } from '../../../../renderer/places/shelf/adding.svelte.ts'
import { findMasters } from '../../../../renderer/places/shelf/find.ts'
import { masters } from '../../support/night.ts'
import { FakeTransport } from '../../support/transport.ts'

describe('finding masters by plain words', () => {
  const found = (typed: string) => findMasters(masters, typed).map(({ id }) => id)
  test.each([
    ['', [3, 4, 5, 6, 7]],
    ['flat dark', [5]],
    ['dark flat', [5]],
    ['DUAL', [6]],
    ['300 s', [3]],
    ['gain unknown', [7]],
    ['-10 kestrel dark 180', [4]],
    ['−10 180', [4]],
    ['retired', [7]],
    ['nonsense', []],
  ])('“%s” finds %j', (typed, ids) => {
    expect(found(typed)).toEqual(ids)
  })
})

describe('what a person tells about a master', () => {
  test('numbers may be typed with a comma or a true minus sign, gains may be labels', () => {
    expect(answersFrom({ tempC: '−10,5', exposureS: ' 3.5 ', gain: 'HI', offset: '30', filter: 'dual-band' })).toEqual({
      tempC: -10.5,
      exposureS: 3.5,
      gain: 'HI',
      offset: 30,
      filter: 'dual-band',
    })
  })

  test('what stays empty is not told; what is no number is pointed out', () => {
    expect(answersFrom({ tempC: '', filter: '  ' })).toEqual({})
    expect(answersFrom({ exposureS: 'long' })).toEqual({ wrong: 'exposureS' })
  })

  test('fields that are lacking are asked once for all, in the order of the form', async () => {
    const transport = new FakeTransport({
      addMasters: () => ({
        added: [masters[0]!],
        refused: [
          { path: '/a', reason: 'Its scale is not known.', lacks: ['scale', 'gain'] },
          { path: '/b', reason: 'Its kind is not known.', lacks: ['kind', 'gain'] },
        ],
      }),
    })
    const adding = new Adding(new Client(transport), new Troubles())
    await adding.add(['/a', '/b', '/c'])
    expect(adding.added).toBe(1)
    expect(adding.lacks).toEqual(['kind', 'gain', 'scale'])
  })
})
