import type { CoverageNeed } from '../../../main/contract/index.ts'
import { MASTER_KINDS, MASTER_STATES, type VerdictWord } from '../../../main/contract/words.ts'
import { ageDaysOf, numberOf, textOf, type ShelfRows } from './rows.ts'

/** Which darks exist, by exposure and temperature, for each camera as it is set: what the coverage grid draws. */

export type GridKind = 'dark' | 'darkFlat'
/** What a cell says at a glance: a sound young master, one that asks for a check, one whose history is unknown, or what is lacking. */
export type CellWord = 'here' | 'old' | VerdictWord

export interface CellMaster {
  id: number
  row: number
  ageDays: number | null
  frames: number | null
  noise: number | null
  proven: boolean
  confirmed: boolean
  old: boolean
}

export interface GridCell {
  /** The best first. */
  masters: CellMaster[]
  needs: CoverageNeed[]
  word: CellWord
}

export interface GridLine {
  kind: GridKind
  exposureS: number | null
  /** One for each temperature of the group; null where nothing exists and nothing is needed. */
  cells: (GridCell | null)[]
}

export interface GridGroup {
  key: string
  camera: string | null
  body: string | null
  gain: string | null
  offset: string | null
  binning: string | null
  readout: string | null
  width: number | null
  height: number | null
  tempsC: (number | null)[]
  lines: GridLine[]
  masters: number
  /** Lights and flats that nothing matches yet. */
  lacking: number
  tonight: boolean
}

interface DraftCell extends Omit<GridCell, 'word'> {
  kind: GridKind
  exposureS: number | null
  tempC: number | null
}
interface Draft extends Omit<GridGroup, 'tempsC' | 'lines'> {
  cells: Map<string, DraftCell>
}
/** The groups of a shelf, before it is asked what lights need of them. */
export type GridDrafts = ReadonlyMap<string, Draft>

/** The column in which a temperature stands: its set point, else the whole degree that was measured. */
export const columnTempC = (setTempC: number | null, sensorTempC: number | null): number | null =>
  setTempC ?? (sensorTempC === null ? null : Math.round(sensorTempC) + 0)

const ROWS_A_STEP = 500

/**
 * The masters of the shelf in their cells, some rows a step (see `inSlices`).
 * @param oldDays from this age on, unless proven since, a dark asks for a check
 */
export function* draftGrid(
  rows: ShelfRows,
  { nowMs, oldDays }: { nowMs: number; oldDays: number },
): Generator<void, GridDrafts> {
  const drafts = new Map<string, Draft>()
  const ready = MASTER_STATES.indexOf('ready')
  const kinds: Record<number, GridKind> = {
    [MASTER_KINDS.indexOf('dark')]: 'dark',
    [MASTER_KINDS.indexOf('darkFlat')]: 'darkFlat',
  }
  for (let row = 0; row < rows.count; row++) {
    if (row % ROWS_A_STEP === ROWS_A_STEP - 1) yield
    const kind = kinds[rows.kind[row]!]
    if (!kind || rows.state[row] !== ready) continue
    const draft = draftOf(drafts, groupOfRow(rows, row))
    draft.masters++
    const tempC = columnTempC(numberOf(rows, 'setTempC', row), numberOf(rows, 'sensorTempC', row))
    cellOf(draft, kind, numberOf(rows, 'exposureS', row), tempC).masters.push(masterOf(rows, row, nowMs, oldDays))
  }
  for (const { cells } of drafts.values()) {
    for (const { masters } of cells.values()) masters.sort(better)
    yield
  }
  return drafts
}

/** The grid: what is on the shelf, and what lights need of it. */
export function gridGroups(kept: GridDrafts, needs: readonly CoverageNeed[]): GridGroup[] {
  const drafts = new Map([...kept].map(([key, draft]) => [key, { ...draft, cells: new Map(draft.cells) }]))
  for (const need of needs) {
    const { setTempC = null, sensorTempC = null, exposureS = null } = need.settings
    const draft = draftOf(drafts, groupOfNeed(need))
    if (need.verdict !== 'matched') draft.lacking += need.frames - (need.counts.matched ?? 0)
    draft.tonight ||= need.tonight
    const tempC = columnTempC(setTempC, sensorTempC)
    const cell = cellOf(draft, need.kind, exposureS, tempC)
    draft.cells.set(cellKey(need.kind, exposureS, tempC), { ...cell, needs: [...cell.needs, need] })
  }
  return [...drafts.values()].map(finish).sort(byInterest)
}

type Place = Omit<Draft, 'key' | 'cells' | 'masters' | 'lacking' | 'tonight'>

const groupOfRow = (rows: ShelfRows, row: number): Place => ({
  camera: textOf(rows, 'camera', row),
  body: textOf(rows, 'body', row),
  gain: textOf(rows, 'gain', row),
  offset: textOf(rows, 'offset', row),
  binning: textOf(rows, 'binning', row),
  readout: textOf(rows, 'readout', row),
  width: numberOf(rows, 'width', row),
  height: numberOf(rows, 'height', row),
})

const asText = (value: string | number | null | undefined) => (value == null ? null : String(value))
const groupOfNeed = ({ settings }: CoverageNeed): Place => ({
  camera: settings.camera ?? null,
  body: settings.body ?? null,
  gain: asText(settings.gain),
  offset: asText(settings.offset),
  binning: settings.binning ?? null,
  readout: asText(settings.readout),
  width: settings.width ?? null,
  height: settings.height ?? null,
})

function draftOf(drafts: Map<string, Draft>, place: Place): Draft {
  const { camera, body, gain, offset, binning, readout, width, height } = place
  const key = [body ?? camera, camera, gain, offset, binning, readout, width, height].join('\u001f')
  let draft = drafts.get(key)
  if (!draft) drafts.set(key, (draft = { ...place, key, cells: new Map(), masters: 0, lacking: 0, tonight: false }))
  return draft
}

/** Exposures are one to the digits in which they are shown. */
const cellKey = (kind: GridKind, exposureS: number | null, tempC: number | null) =>
  `${kind} ${exposureS?.toFixed(exposureS < 1 ? 5 : 3)} ${tempC}`

function cellOf({ cells }: Draft, kind: GridKind, exposureS: number | null, tempC: number | null): DraftCell {
  const key = cellKey(kind, exposureS, tempC)
  let cell = cells.get(key)
  if (!cell) cells.set(key, (cell = { kind, exposureS, tempC, masters: [], needs: [] }))
  return cell
}

const DAY_MS = 86_400_000

function masterOf(rows: ShelfRows, row: number, nowMs: number, oldDays: number): CellMaster {
  const ageDays = ageDaysOf(rows, row, nowMs)
  const provenAtMs = numberOf(rows, 'provenAtMs', row)
  const provenLately = provenAtMs !== null && nowMs - provenAtMs < oldDays * DAY_MS
  return {
    id: rows.id[row]!,
    row,
    ageDays,
    frames: numberOf(rows, 'frames', row),
    noise: numberOf(rows, 'noise', row),
    proven: provenAtMs !== null,
    confirmed: rows.confirmed[row] === 1,
    old: ageDays !== null && ageDays > oldDays && !provenLately,
  }
}

const known = (value: number | null, last: number) => value ?? last
const better = (a: CellMaster, b: CellMaster): number =>
  Number(b.confirmed) - Number(a.confirmed) ||
  Number(a.old) - Number(b.old) ||
  Number(b.proven) - Number(a.proven) ||
  known(a.ageDays, Infinity) - known(b.ageDays, Infinity) ||
  known(b.frames, 0) - known(a.frames, 0) ||
  a.id - b.id

const BAD: readonly VerdictWord[] = ['lost', 'missing', 'due', 'unconfirmed', 'near']

/** What lights lack comes before what is there; a master that is there before a need that it answers. */
export function wordOf(masters: readonly CellMaster[], needs: readonly CoverageNeed[]): CellWord {
  const lacking = BAD.find((word) => needs.some(({ verdict }) => verdict === word))
  if (lacking && (lacking !== 'unconfirmed' || !masters.length)) return lacking
  const [best] = masters
  if (!best) return 'matched'
  if (!best.confirmed) return 'unconfirmed'
  return best.old ? 'old' : 'here'
}

function finish({ cells, ...group }: Draft): GridGroup {
  const tempsC = [...new Set([...cells.values()].map(({ tempC }) => tempC))].sort(
    (a, b) => (a ?? Infinity) - (b ?? Infinity),
  )
  const lines = new Map<string, GridLine>()
  const ordered = [...cells.values()].sort(
    (a, b) => a.kind.localeCompare(b.kind) || (a.exposureS ?? Infinity) - (b.exposureS ?? Infinity),
  )
  for (const { kind, exposureS, tempC, masters, needs } of ordered) {
    const key = `${kind} ${exposureS?.toFixed(5)}`
    let line = lines.get(key)
    if (!line) lines.set(key, (line = { kind, exposureS, cells: tempsC.map(() => null) }))
    line.cells[tempsC.indexOf(tempC)] = { masters, needs, word: wordOf(masters, needs) }
  }
  return { ...group, tempsC, lines: [...lines.values()] }
}

const byInterest = (a: GridGroup, b: GridGroup): number =>
  Number(b.tonight) - Number(a.tonight) || b.lacking - a.lacking || b.masters - a.masters || a.key.localeCompare(b.key)

/** The next cell that has something in it, in a direction; the same where there is none. */
export function nextCell(
  lines: readonly GridLine[],
  from: { line: number; column: number },
  key: string,
): { line: number; column: number } {
  const steps: Record<string, [number, number]> = {
    ArrowUp: [-1, 0],
    ArrowDown: [1, 0],
    ArrowLeft: [0, -1],
    ArrowRight: [0, 1],
  }
  const isThere = (line: number, column: number) => Boolean(lines[line]?.cells[column])
  const step = steps[key]
  if (step)
    for (let line = from.line + step[0], column = from.column + step[1]; lines[line] && column in lines[line].cells;) {
      if (isThere(line, column)) return { line, column }
      line += step[0]
      column += step[1]
    }
  if (key === 'Home' || key === 'End') {
    const columns = (lines[from.line]?.cells ?? []).flatMap((cell, column) => (cell ? [column] : []))
    return { line: from.line, column: (key === 'Home' ? columns[0] : columns.at(-1)) ?? from.column }
  }
  return from
}
