import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { requests, statusSchema } from '../../main/contract/index.ts'
import { logDocument } from '../../main/host/cli/verbs/log.ts'
import { freshFolder, writeFrame, writeRun } from '../engine/night-files.ts'
import { built, nightshelf } from './program.ts'

const setUp = () => {
  const folder = freshFolder()
  const capture = join(folder, 'capture')
  mkdirSync(capture)
  return { data: ['--data', join(folder, 'data')], capture }
}

describe.runIf(built)('the command line', () => {
  test('log prints one JSON document as the contract says, exits 0, and logs nothing twice', () => {
    const { data, capture } = setUp()
    writeRun(capture, 4)
    const first = nightshelf(...data, 'log', capture, '--json')
    expect([first.code, first.err]).toEqual([0, ''])
    const document = logDocument.parse(first.json())
    expect(document.summary).toEqual({ seen: 4, logged: 4, amended: 0, already: 0, unreadable: 0 })
    expect(document.frames.map((frame) => frame.exposureS)).toEqual([300, 300, 300, 300])
    expect(nightshelf('log', capture, '--json', ...data).json()).toMatchObject({ summary: { logged: 0, already: 4 } })
  })

  test('log exits 1 with one sentence for each problem on stderr, each time, and logs the rest', () => {
    const { data, capture } = setUp()
    writeRun(capture, 2)
    writeFileSync(join(capture, 'text.fits'), 'Dear diary\n'.repeat(400))
    for (const logged of [2, 0]) {
      const { code, err, json } = nightshelf(...data, 'log', capture, '--json')
      expect(code).toBe(1)
      expect(err.trim().split('\n')).toEqual([
        expect.stringMatching(/^nightshelf: .*text\.fits: This is no FITS file/) as string,
      ])
      expect(json()).toMatchObject({
        summary: { seen: 3, logged, unreadable: 1 },
        problems: [{ path: join(capture, 'text.fits') }],
      })
    }
  })

  test('log --figures waits for figures of every frame', () => {
    const { data, capture } = setUp()
    writeRun(capture, 2)
    const { code, json } = nightshelf(...data, 'log', capture, '--figures', '--json')
    expect(code).toBe(0)
    const { frames } = logDocument.parse(json())
    for (const { figures } of frames) expect(figures).toMatchObject({ width: 32, height: 24 })
  })

  test('log offers a master that it finds among raw frames', () => {
    const { data, capture } = setUp()
    const path = writeFrame(capture, 'm.fits', { kind: 'Master Dark', more: [{ keyword: 'NCOMBINE', value: 20 }] })
    expect(nightshelf(...data, 'log', capture, '--json').json()).toMatchObject({ offered: [path] })
    expect(nightshelf(...data, 'log', capture).out).toMatch(/1 file is a master, no raw frames|library add/)
  })

  test('status tells the newest night, and any other by its date, as the contract says', () => {
    const { data, capture } = setUp()
    writeRun(capture, 4)
    writeFrame(capture, 'earlier.fits', { startedAt: '2026-11-10T21:00:00', seed: 90 })
    nightshelf(...data, 'log', capture)
    const newest = nightshelf(...data, 'status', '--json')
    expect(newest.code).toBe(0)
    const status = statusSchema.parse(newest.json())
    expect(status).toMatchObject({ night: '2026-11-20', figuresPending: 4 })
    expect(status.runs[0]).toMatchObject({
      frames: 4,
      totalS: 1200,
      verdicts: { dark: { verdict: 'due', counts: { due: 4 } } },
    })
    expect(status.shortfall.map((row) => row.kind)).toContain('dark')
    expect(nightshelf(...data, 'status', '--night', '2026-11-10', '--json').json()).toMatchObject({
      night: '2026-11-10',
    })
    const empty = nightshelf(...data, 'status', '--night', '2026-01-01')
    expect([empty.code, empty.out]).toEqual([0, expect.stringMatching(/Nothing is logged of this night/)])
  })

  test('status says the answer first, in words, with the settings to type in', () => {
    const { data, capture } = setUp()
    writeRun(capture, 4)
    nightshelf(...data, 'log', capture)
    const { out } = nightshelf(...data, 'status')
    expect(out).toMatch(/^Night of 20 November 2026\n\n4 lights, 20 min of exposure\. /)
    expect(out).toMatch(/20 darks: 300 s, gain 100, offset 30, −10\.0 °C/)
    expect(out).toMatch(/Dark due/)
  })

  test('a notice is acknowledged by the name that status shows, and stays acknowledged', () => {
    const { data, capture } = setUp()
    writeRun(capture, 4)
    nightshelf(...data, 'log', capture)
    const notices = () => statusSchema.parse(nightshelf(...data, 'status', '--json').json()).notices
    const [notice] = notices()
    expect(notice.acknowledged).toBe(false)
    expect(nightshelf(...data, 'notice', notice.id, 'acknowledge').code).toBe(0)
    expect(notices().find(({ id }) => id === notice.id)).toMatchObject({
      acknowledged: true,
      openedAt: notice.openedAt,
    })
    const unknown = nightshelf(...data, 'notice', 'no-such-thing', 'acknowledge')
    expect([unknown.code, unknown.err]).toEqual([
      1,
      expect.stringMatching(/^nightshelf: No notice "no-such-thing" is open/),
    ])
  })

  test('library adds, lists, retires, restores and verifies', () => {
    const { data, capture } = setUp()
    const path = writeFrame(capture, 'm.fits', { kind: 'Dark', filter: null, gain: null })
    const refused = nightshelf(...data, 'library', 'add', path, '--json')
    expect(refused.code).toBe(1)
    expect(refused.json()).toMatchObject({ added: [], refused: [{ path, lacks: ['gain'] }] })
    expect(refused.err).toContain('Tell it with --gain ….')
    const added = nightshelf(
      ...data,
      'library',
      'add',
      path,
      '--gain',
      '100',
      '--scale',
      'adu',
      '--subtracted',
      'none',
      '--json',
    )
    expect(added.code).toBe(0)
    const [{ id }] = requests.addMasters.output.parse(added.json()).added
    const list = requests.library.output.parse(nightshelf(...data, 'library', '--json').json())
    expect(list.masters).toMatchObject([
      { id, kind: 'dark', gain: 100, scale: 'adu', subtracted: 'none', state: 'ready' },
    ])
    expect(nightshelf(...data, 'library', 'retire', String(id), '--json').json()).toMatchObject({
      master: { state: 'retired' },
    })
    expect(nightshelf(...data, 'library', 'restore', String(id), '--json').json()).toMatchObject({
      master: { state: 'ready' },
    })
    expect(nightshelf(...data, 'library', 'verify', '--json')).toMatchObject({ code: 0 })
    const other = writeFrame(capture, 'other.fits', { kind: 'Dark', filter: null, offset: 50 })
    const check = nightshelf(...data, 'check', 'dark', other)
    expect(check.code).toBe(1)
    expect(check.err).toMatch(
      new RegExp(`the nearest is master ${id} .*: build darks .*\\. --master ${id} takes that one all the same\\.\n$`),
    )
    writeFileSync(path, 'ruined')
    const verified = nightshelf(...data, 'library', 'verify', '--json')
    expect(verified.code).toBe(1)
    expect(verified.json()).toMatchObject({ ok: 0, damaged: [{ id, path }] })
  })

  test('a negative temperature is a value, not an option', () => {
    const { data, capture } = setUp()
    const path = writeFrame(capture, 'm.fits', { kind: 'Dark', filter: null, tempC: null })
    const { json } = nightshelf(...data, 'library', 'add', path, '--temp', '-10', '--json')
    expect(json()).toMatchObject({ added: [{ sensorTempC: -10 }] })
  })

  test.each([
    [['log'], /needs the folder/],
    [['status', '--night', '2026-02-30'], /takes a date like/],
    [['status', '--night', 'yesterday'], /takes a date like/],
    [['library', 'add'], /needs the files/],
    [['library', 'add', 'x.fits', '--scale', 'dn'], /--scale is one of adu, unit/],
    [['library', 'add', 'x.fits', '--temp', 'cold'], /--temp takes a number/],
    [['library', 'add', 'x.fits', '--frames', '0'], /--frames takes a whole number/],
    [['library', 'retire'], /Say which master/],
    [['library', 'burn'], /knows no "burn"/],
    [['notice', 'x'], /Say which notice/],
    [['log', '.', '--colour'], /colour/],
    [['tonight'], /no verb "tonight"/],
  ])('%j is unusable: exit 2, one sentence, nothing on stdout, no data folder made', (args, sentence) => {
    const { data } = setUp()
    const { code, out, err } = nightshelf(...data, ...args)
    expect([code, out]).toEqual([2, ''])
    expect(err).toMatch(sentence)
    expect(err.trim().split('\n')).toHaveLength(1)
  })

  test.each(['log', 'status', 'library', 'notice'])('%s --help tells its usage', (verb) => {
    const { code, out, err } = nightshelf(verb, '--help')
    expect([code, err]).toEqual([0, ''])
    expect(out).toMatch(new RegExp(`^usage: nightshelf ${verb}`))
  })

  test('a data folder that cannot be made is refused with a sentence', () => {
    const { capture } = setUp()
    writeFileSync(join(capture, 'file'), '')
    const { code, err } = nightshelf('--data', join(capture, 'file', 'data'), 'status')
    expect(code).toBe(1)
    expect(err).toMatch(/^nightshelf: The data folder .* cannot be made/)
  })
})
