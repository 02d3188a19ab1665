import type { Answer, MasterAnswers } from '../../../main/contract/index.ts'

/** What a person tells about masters whose headers lack it: one form for all files of a drop. */

export type Field = keyof MasterAnswers
export type Source = { path: string } | { incoming: string; name: string }

/** A file that lacks something, or a master that was added and stays unconfirmed until more is told. */
export interface Candidate {
  key: string
  name: string
  source: Source
  lacks: readonly Field[]
  /** What its name seems to say; offered, never taken by itself. */
  suggests: Partial<Record<Field, string>>
  /** It stands on the shelf already. */
  added: boolean
}

/** For a field: one value for all that lack it, or each its own. */
export interface TypedField {
  each: boolean
  all: string
  own: Record<string, string>
}
export type Typed = Partial<Record<Field, TypedField>>

/** Fields that a person may tell, in the order in which they are asked. */
export const FIELDS: readonly Field[] = [
  'kind',
  'camera',
  'exposureS',
  'tempC',
  'gain',
  'offset',
  'filter',
  'frames',
  'scale',
  'subtracted',
  'lightSource',
]

const numeric: readonly Field[] = ['exposureS', 'tempC', 'frames']
/** Numbers for most cameras, labels for some. */
const either: readonly Field[] = ['gain', 'offset']

/** What the engine calls the sensor's temperature is answered as `tempC`. */
const fieldNamed = (name: string): Field | null => {
  const field = name === 'sensorTempC' ? 'tempC' : name
  return (FIELDS as readonly string[]).includes(field) ? (field as Field) : null
}

/** What a refused file lacks, and what its name suggests, as fields of the form. */
export function fieldsOf({
  lacks,
  suggests = {},
}: Pick<Answer<'addMasters'>['refused'][number], 'lacks' | 'suggests'>) {
  const offered: Partial<Record<Field, string>> = {}
  for (const [name, value] of Object.entries(suggests)) {
    const field = fieldNamed(name)
    if (field) offered[field] = value
  }
  return { lacks: lacks.flatMap((name) => fieldNamed(name) ?? []), suggests: offered }
}

export const lackedFields = (candidates: readonly Candidate[]): Field[] =>
  FIELDS.filter((field) => candidates.some(({ lacks }) => lacks.includes(field)))

export const emptyField = (): TypedField => ({ each: false, all: '', own: {} })

/** "−10,5" as people type it: a comma, a true minus sign. */
const parsed = (text: string) => Number(text.trim().replace(',', '.').replace('\u2212', '-'))

/** What was typed for one file, as the contract wants it; or the field in which a number is none. Empty fields are left out. */
export function answersFor(candidate: Candidate, typed: Typed): MasterAnswers | { wrong: Field } {
  const answers: Record<string, string | number> = {}
  for (const field of FIELDS) {
    const told = typed[field]
    if (!told || !candidate.lacks.includes(field)) continue
    const text = (told.each ? (told.own[candidate.key] ?? '') : told.all).trim()
    if (!text) continue
    const value = parsed(text)
    if (numeric.includes(field) && Number.isNaN(value)) return { wrong: field }
    answers[field] = numeric.includes(field) || (either.includes(field) && !Number.isNaN(value)) ? value : text
  }
  return answers as MasterAnswers
}

interface Told {
  /** Files of which the same is told: one request each. */
  groups: { answers: MasterAnswers; sources: Source[] }[]
  /** Files of which nothing is told, and that cannot be added without. */
  untold: Candidate[]
}

/** What was typed, file by file; or the first field in which a number is none, and the file that it is about. */
export function groupByAnswers(candidates: readonly Candidate[], typed: Typed): Told | { wrong: Field; name: string } {
  const groups = new Map<string, Told['groups'][number]>()
  const untold: Candidate[] = []
  for (const candidate of candidates) {
    const answers = answersFor(candidate, typed)
    if ('wrong' in answers) return { wrong: answers.wrong as Field, name: candidate.name }
    if (!Object.keys(answers).length) {
      if (!candidate.added) untold.push(candidate)
      continue
    }
    const key = JSON.stringify(answers)
    const group = groups.get(key)
    if (group) group.sources.push(candidate.source)
    else groups.set(key, { answers, sources: [candidate.source] })
  }
  return { groups: [...groups.values()], untold }
}

/** What the names of the files suggest for a field: for all the same, or each its own; null where no name says anything. */
export function suggestion(candidates: readonly Candidate[], field: Field): TypedField | null {
  const lacking = candidates.filter(({ lacks }) => lacks.includes(field))
  const said = lacking.flatMap(({ key, suggests }) => (suggests[field] === undefined ? [] : [[key, suggests[field]]]))
  if (!said.length) return null
  const values = new Set(said.map(([, value]) => value))
  if (values.size === 1 && said.length === lacking.length) return { each: false, all: said[0]![1]!, own: {} }
  return { each: true, all: '', own: Object.fromEntries(said) as Record<string, string> }
}

export const nameOf = (path: string) => path.replace(/^.*[/\\](?=.)/, '')
export const isFitsName = (name: string) => /\.(fits|fit|fts|fz)$/i.test(name)
