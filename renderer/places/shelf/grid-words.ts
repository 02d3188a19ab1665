import type { CoverageNeed } from '../../../main/contract/index.ts'
import { age, counted, exposure, number, plain, setTemp, withUnit } from '../../parts/format.ts'
import { capital, kindWord, kindsWord, verdictWord } from '../../parts/labels.ts'
import type { CellMaster, CellWord, GridCell, GridGroup, GridKind, GridLine } from './grid.ts'

/** The word beside a cell's sign. */
export const cellWord: Record<CellWord, string> = { ...verdictWord, here: 'here', old: 'check it' }

/** What the signs mean, for the list below the grid. */
export const CELL_MEANINGS: readonly (readonly [CellWord, string])[] = [
  ['here', 'a master is here'],
  ['old', 'old and not proven since: shoot one check frame'],
  ['unconfirmed', 'its scale or history is not known'],
  ['near', 'lights have only an almost fitting one'],
  ['due', 'lights wait for it: it can still be shot'],
  ['missing', 'it can’t be shot any more'],
]

/** "Kestrel 294C", "gain 120", "offset 30", "2x2". */
export function groupParts({ camera, body, gain, offset, binning, readout, width, height }: GridGroup): string[] {
  const named = (name: string, value: string | null) => `${name}\u00a0${value ?? 'not\u00a0known'}`
  return [
    camera ?? 'Camera not known',
    body && body !== camera ? body : null,
    named('gain', gain),
    named('offset', offset),
    binning && binning !== '1x1' ? named('binning', binning) : null,
    readout !== null && readout !== '0' ? named('readout', readout) : null,
    width && height ? withUnit(`${width} × ${height}`, 'px') : null,
  ].filter((part) => part !== null)
}

export const exposureWord = (exposureS: number | null) => (exposureS === null ? 'not known' : exposure(exposureS))
export const tempWord = (tempC: number | null) => (tempC === null ? 'not known' : setTemp(tempC))

/** "41 days", "14 months": short, for a cell. */
export const shortAge = (days: number | null) => (days === null ? 'age unknown' : age(days).replace(/ old$/, ''))

/** How good a master is, in the words that fit into a cell: "30 frames", "proven", "noise 1.2 ADU". */
export function quality({ frames, proven, noise }: CellMaster): string[] {
  return [
    frames === null ? null : counted(frames, 'frame'),
    proven ? 'proven' : null,
    noise === null ? null : `noise ${withUnit(number(noise, 2), 'ADU')}`,
  ].filter((part) => part !== null)
}

const waiting = (needs: readonly CoverageNeed[]) =>
  needs.reduce((sum, { frames, counts }) => sum + frames - (counts.matched ?? 0), 0)

/** "37 lights wait", "for 37 lights": whom a cell is for; null where nobody asked. */
export function askedBy(kind: GridKind, { needs }: GridCell): string | null {
  const frames = needs.reduce((sum, need) => sum + need.frames, 0)
  if (!frames) return null
  const one = kind === 'dark' ? 'light' : 'flat'
  const wait = waiting(needs)
  return wait ? `${counted(wait, one)} ${wait === 1 ? 'waits' : 'wait'}` : `for ${counted(frames, one)}`
}

/** How many there are, how old and how good the best is. */
function cellDetails({ masters, word }: GridCell): string {
  const [best] = masters
  if (!best) return ''
  const parts = [
    masters.length > 1 ? counted(masters.length, 'master') : null,
    word === 'here' ? null : shortAge(best.ageDays),
    ...quality(best),
  ]
  return parts.filter(Boolean).join(', ')
}

/** Where a cell stands, for those who do not see it: it is read before what the cell says. */
export const cellPlace = ({ kind, exposureS }: GridLine, tempC: number | null): string =>
  `${capital(kindWord[kind])} ${exposureWord(exposureS)} at ${tempWord(tempC)}: `

/** What a cell says, line by line: how old the best is or what is wrong, the details, and whom it is for. */
export function cellLines(kind: GridKind, cell: GridCell): string[] {
  const [best] = cell.masters
  const word = cell.word === 'here' && best ? shortAge(best.ageDays) : cellWord[cell.word]
  return [word, cellDetails(cell), askedBy(kind, cell) ?? ''].filter(Boolean)
}

/** The words that find the masters of a cell in the table. */
export function findWords(group: GridGroup, line: GridLine, tempC: number | null): string {
  const field = (name: string, value: string | null) => `${name} ${value ?? 'unknown'}`
  return plain(
    [
      'ready',
      kindsWord[line.kind],
      line.exposureS === null ? '' : `${line.exposureS} s`,
      tempC === null ? '' : `${tempC} °C`,
      field('gain', group.gain),
      field('offset', group.offset),
    ]
      .filter(Boolean)
      .join(' '),
  )
}
