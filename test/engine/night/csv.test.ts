import { expect, test } from 'vitest'
import { framesAsCsv } from '../../../main/engine/night/csv.ts'
import { freshEngine } from '../engines.ts'
import { writeFrame } from '../night-files.ts'
import { captureFolder } from '../rigs/shelf.ts'

/** A reader of RFC 4180 that knows nothing of how it was written. */
function readCsv(text: string): string[][] {
  const rows: string[][] = [[]]
  for (const [, quoted, bare, end] of text.matchAll(/(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n)/g)) {
    rows.at(-1)!.push(quoted?.replaceAll('""', '"') ?? bare)
    if (end === '\r\n') rows.push([])
  }
  return rows.slice(0, -1)
}

test('a night is a table with a line for each frame, read back by the rules of RFC 4180', async () => {
  const folder = captureFolder('night')
  writeFrame(folder, 'a, "b".fits', { target: 'Veil, east' })
  writeFrame(folder, 'b.fits', { target: '=HYPERLINK("http://evil.example")' })
  const engine = await freshEngine()
  await engine.log([folder])
  const { csv, frames, night } = await engine.ask('nightLog', {})
  expect([frames, night]).toEqual([2, '2026-11-20'])
  const [names, ...rows] = readCsv(csv)
  const of = (row: string[], name: string) => row[names.indexOf(name)]
  expect(rows).toHaveLength(2)
  expect(rows.map((row) => row.length)).toEqual([names.length, names.length])
  const veil = rows.find((row) => of(row, 'target') === 'Veil, east')!
  expect(of(veil, 'path')).toContain('a, "b".fits')
  expect(of(veil, 'exposureS')).toBe('300')
  expect(rows.map((row) => of(row, 'target'))).toContain(`'=HYPERLINK("http://evil.example")`)
})

// OWASP, "CSV Injection": = + - @, tab and carriage return at the beginning of a cell.
test('text that a spreadsheet would run is text; numbers stay numbers', () => {
  const line = (target: string, setTempC: number | null) =>
    framesAsCsv([{ target, setTempC } as Parameters<typeof framesAsCsv>[0][number]]).split('\r\n')[1]
  for (const begin of ['=', '+', '-', '@', '\t', '\r', ' =']) expect(line(`${begin}1`, null)).toContain(`'${begin}1`)
  expect(line('M 42', -10)).toContain(',-10,')
  expect(line('M 42', -10)).not.toContain("'")
})
