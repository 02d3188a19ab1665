import { spellings, type ProgramAnswer, type SettingName, type Spelling, type Unit } from './dictionary.ts'
import type { CardLike, FrameContext, HeaderLike } from './facts.ts'
import { readWords } from './values.ts'

/** A card that speaks of a setting. `told` where the user said what its keyword means, so that there is nothing to doubt. */
export interface Found extends CardLike {
  unit?: Unit
  told: boolean
  rank: number
}

/** The cards of a header by the setting that they speak of, in order of preference. */
export type Findings = Partial<Record<SettingName, Found[]>>

interface Entry {
  setting: SettingName | 'ignore'
  unit?: Unit
  told: boolean
  rank: number
}
type Lexicon = Map<string, Entry | null>

/** Sorts the cards of a header by setting. Cards without a value and of unknown keywords are passed over. */
export function findSettings(header: HeaderLike, context: FrameContext): Findings {
  const answers = context.programs?.length ? context.programs : null
  const lexicon = lexiconFor(context.spellings, answers, answers && programOf(header))
  const found: Findings = {}
  for (const card of header.cards) {
    const entry = lookUp(lexicon, card.keyword)
    if (!entry || entry.setting === 'ignore' || card.value === null || card.value === undefined) continue
    if (card.form === 'text') continue
    const { keyword, value, comment } = card
    const list = (found[entry.setting] ??= [])
    const at = list.findLastIndex((before) => before.rank <= entry.rank) + 1
    list.splice(at, 0, { keyword, value, comment, unit: entry.unit, told: entry.told, rank: entry.rank })
  }
  return found
}

/** The writing program, as the header names it; null if it does not. */
export function programOf(header: HeaderLike): string | null {
  for (const { keyword } of spellings.filter((spelling) => spelling.setting === 'program')) {
    const card = header.cards.find((card) => card.keyword === keyword)
    const name = card ? readWords(card.value) : null
    if (name) return name
  }
  return null
}

const plain = (keyword: string) => keyword.toUpperCase().replace(/[-_\s]+/g, '')

/** Keywords as headers write them are remembered beside their plain form: a night's headers all use the same ones. */
function lookUp(lexicon: Lexicon, keyword: string): Entry | null {
  const known = lexicon.get(keyword)
  if (known !== undefined) return known
  const entry = lexicon.get(plain(keyword)) ?? null
  if (lexicon.size < 10_000) lexicon.set(keyword, entry)
  return entry
}

const noSpellings: readonly Spelling[] = []
const noAnswers: readonly ProgramAnswer[] = []
const lexicons = new WeakMap<readonly Spelling[], WeakMap<readonly ProgramAnswer[], Map<string, Lexicon>>>()

/** Compiled once per set of additions, answers and program. */
function lexiconFor(
  own: readonly Spelling[] = noSpellings,
  answers: readonly ProgramAnswer[] | null,
  program: string | null,
): Lexicon {
  const perOwn = lexicons.get(own) ?? new WeakMap<readonly ProgramAnswer[], Map<string, Lexicon>>()
  lexicons.set(own, perOwn)
  const perAnswers = perOwn.get(answers ?? noAnswers) ?? new Map<string, Lexicon>()
  perOwn.set(answers ?? noAnswers, perAnswers)
  const name = program ?? ''
  let lexicon = perAnswers.get(name)
  if (!lexicon) {
    if (perAnswers.size > 100) perAnswers.clear()
    perAnswers.set(name, (lexicon = compile(own, answers ?? noAnswers, name)))
  }
  return lexicon
}

function compile(own: readonly Spelling[], answers: readonly ProgramAnswer[], program: string): Lexicon {
  const lexicon: Lexicon = new Map()
  let rank = 0
  const add = (keyword: string, setting: Entry['setting'], unit: Unit | undefined, told: boolean) => {
    const word = plain(keyword)
    if (word && !lexicon.has(word)) lexicon.set(word, { setting, unit, told, rank: rank++ })
  }
  for (const answer of answers)
    if (answer.program.trim() && program.toLowerCase().startsWith(answer.program.trim().toLowerCase()))
      add(answer.keyword, answer.means, answer.unit, true)
  for (const { keyword, setting, unit } of own) add(keyword, setting, unit, true)
  for (const { keyword, setting, unit } of spellings) add(keyword, setting, unit, false)
  return lexicon
}
