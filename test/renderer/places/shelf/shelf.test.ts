import { describe, expect, test } from 'vitest'
import { Client } from '../../../../renderer/client/client.svelte.ts'
import { Troubles } from '../../../../renderer/client/troubles.svelte.ts'
import { Adding } from '../../../../renderer/places/shelf/adding.svelte.ts'
import { answersFor, suggestion, type Candidate, type Typed } from '../../../../renderer/places/shelf/answers.ts'
import { ShelfState } from '../../../../renderer/places/shelf/shelf.svelte.ts'
import { master, masters } from '../../support/night.ts'
import { shelfPageOf } from '../../support/shelf.ts'
import { FakeTransport, settled } from '../../support/transport.ts'

const candidate = (name: string, more: Partial<Candidate> = {}): Candidate => ({
  key: `/${name}`,
  name,
  source: { path: `/${name}` },
  lacks: ['tempC', 'exposureS', 'gain', 'offset', 'filter'],
  suggests: {},
  added: false,
  ...more,
})
const all = (text: string) => ({ each: false, all: text, own: {} })

describe('what a person tells about a master', () => {
  test('numbers may be typed with a comma or a true minus sign, gains may be labels', () => {
    const typed: Typed = {
      tempC: all('−10,5'),
      exposureS: all(' 3.5 '),
      gain: all('HI'),
      offset: all('30'),
      filter: all('dual-band'),
    }
    expect(answersFor(candidate('a'), typed)).toEqual({
      tempC: -10.5,
      exposureS: 3.5,
      gain: 'HI',
      offset: 30,
      filter: 'dual-band',
    })
  })

  test('what stays empty or is not lacking is not told; what is no number is pointed out', () => {
    expect(answersFor(candidate('a'), { tempC: all(''), filter: all('  '), frames: all('20') })).toEqual({})
    expect(answersFor(candidate('a'), { exposureS: all('long') })).toEqual({ wrong: 'exposureS' })
  })

  test('names that say the same are offered for all, names that differ for each, and nothing is taken by itself', () => {
    const a = candidate('a', { suggests: { exposureS: '300', gain: '120' } })
    const b = candidate('b', { suggests: { exposureS: '60', gain: '120' } })
    expect(suggestion([a, b], 'gain')).toEqual({ each: false, all: '120', own: {} })
    expect(suggestion([a, b], 'exposureS')).toEqual({ each: true, all: '', own: { '/a': '300', '/b': '60' } })
    expect(suggestion([a, b], 'filter')).toBeNull()
    expect(answersFor(a, {})).toEqual({})
  })
})

describe('adding masters', () => {
  const refusal = (path: string, lacks: string[], more: object = {}) => ({
    path,
    reason: 'Its header…',
    lacks,
    ...more,
  })

  test('one form asks for all files together; each gets only what it lacks, those alike in one request', async () => {
    const transport = new FakeTransport({
      addMasters: ({ answers }) =>
        Object.keys(answers ?? {}).length
          ? { added: [master], refused: [] }
          : {
              added: [master],
              refused: [
                refusal('/m/a.fits', ['sensorTempC', 'gain']),
                refusal('/m/b.fits', ['kind', 'gain']),
                refusal('/m/c.fits', ['gain']),
                { path: '/m/x.fits', reason: 'This is a light, no master.', lacks: [] },
              ],
            },
    })
    const adding = new Adding(new Client(transport), new Troubles())
    await adding.addPaths(['/m'])
    expect(adding.added).toBe(1)
    expect(adding.lacks).toEqual(['kind', 'tempC', 'gain'])
    expect(adding.refused).toEqual([{ name: 'x.fits', reason: 'This is a light, no master.' }])
    expect(await adding.complete({ gain: all('x'), tempC: all('cold') })).toEqual({ wrong: 'tempC', name: 'a.fits' })
    const own = { each: true, all: '', own: { '/m/a.fits': '120', '/m/b.fits': '100', '/m/c.fits': '100' } }
    expect(await adding.complete({ gain: own, kind: all('dark') })).toBeNull()
    const asked = transport.asked.slice(1).map(({ input }) => input)
    expect(asked).toEqual([
      { paths: ['/m/a.fits'], incoming: [], answers: { gain: 120 } },
      { paths: ['/m/b.fits'], incoming: [], answers: { kind: 'dark', gain: 100 } },
      { paths: ['/m/c.fits'], incoming: [], answers: { gain: 100 } },
    ])
    expect(adding.candidates).toEqual([])
  })

  test('what a browser drops is sent, but for what is no FITS file by its name; a path is used where there is one', async () => {
    const transport = new FakeTransport({ addMasters: () => ({ added: [master], refused: [] }) })
    const adding = new Adding(new Client(transport), new Troubles())
    await adding.addFiles([new File(['x'], 'dark.fits'), new File(['x'], 'notes.txt')])
    expect(transport.sent).toEqual(['dark.fits'])
    expect(transport.asked[0]!.input).toEqual({ paths: [], incoming: ['incoming-dark.fits-0123456789'], answers: {} })
    expect(adding.refused.map(({ name }) => name)).toEqual(['notes.txt'])
    transport.pathOf = () => '/masters/dark.fits'
    await adding.addFiles([new File(['x'], 'dark.fits')])
    expect(transport.asked[1]!.input).toEqual({ paths: ['/masters/dark.fits'], incoming: [], answers: {} })
  })

  test('a master that was added and stays unconfirmed is asked about as well, and may be left so', async () => {
    const bare = { ...master, scale: null, subtracted: null, frames: null }
    const transport = new FakeTransport({ addMasters: () => ({ added: [bare], refused: [] }) })
    const adding = new Adding(new Client(transport), new Troubles())
    await adding.addPaths([bare.path])
    expect(adding.lacks).toEqual(['frames', 'scale', 'subtracted'])
    await adding.complete({})
    expect(transport.asked).toHaveLength(1)
    expect(adding.candidates).toEqual([])
  })
})

test('what lit a flat is asked once, when it is added, and told with the rest', async () => {
  const flat = { ...master, kind: 'flat' as const, filter: 'luminance', lightSource: null }
  let isNew = true
  const transport = new FakeTransport({
    addMasters: () => (isNew ? { added: [flat], refused: [] } : { added: [], already: [flat], refused: [] }),
  })
  const adding = new Adding(new Client(transport), new Troubles())
  await adding.addPaths([flat.path])
  expect(adding.lacks).toEqual(['lightSource'])
  isNew = false
  await adding.complete({ lightSource: { each: false, all: 'panel', own: {} } })
  expect(transport.asked.at(-1)!.input).toEqual({ paths: [flat.path], incoming: [], answers: { lightSource: 'panel' } })
  expect(adding.candidates).toEqual([])
})

describe('reading the shelf', () => {
  test('the first page is shown at once, the rest follows, and a shelf that changes meanwhile is read anew', async () => {
    let version = '1'
    const pages: number[] = []
    const transport = new FakeTransport({
      coverage: () => ({ needs: [], used: [], near: [], nights: 0 }),
      shelf: ({ after = 0 }) => {
        pages.push(after)
        if (pages.length === 2) version = '2'
        const rest = masters.filter(({ id }) => id > after).slice(0, 2)
        return { ...shelfPageOf(rest), version, total: masters.length }
      },
    })
    const client = new Client(transport)
    const shelf = new ShelfState(client, '', () => 0)
    const stop = shelf.start()
    transport.welcome()
    for (let turn = 0; turn < 20; turn++) await settled()
    expect(pages).toEqual([0, 4, 0, 4, 6])
    expect([...shelf.rows.id]).toEqual([3, 4, 5, 6, 7])
    expect(shelf.total).toBe(5)
    shelf.find = 'flat dark'
    expect([...shelf.found].map((row) => shelf.rows.id[row])).toEqual([5])
    shelf.sortBy('exposureS')
    shelf.sortBy('exposureS')
    expect(shelf.sorting).toEqual({ by: 'exposureS', descending: true })
    stop()
    expect(new ShelfState(client, '', () => 0).known).toBe(true)
  })
})
