import type { ProgramQuestion } from '../../contract/index.ts'
import { parseHeader } from '../../fits/header.ts'
import { settings as definitions, spellings, type SettingName } from '../../frame/dictionary.ts'
import { sayField } from '../../match/wording.ts'
import { cardsOf } from '../../../db/tables/cards.ts'
import { frameById } from '../../../db/tables/frames.ts'
import { highestFrameId, newestOfPrograms } from '../../../db/tables/rig-frames.ts'
import { programAnswers, userSpellings } from '../../../db/tables/spellings.ts'
import type { Readable } from '../../../db/handle.ts'
import type { Core } from '../core.ts'
import { inSlices, type Steps } from '../slices.ts'

/** Settings without which frames match nothing; asked about in this order, one question a program at a time. */
const needed = ['exposureS', 'gain', 'offset', 'sensorTempC', 'filter', 'camera'] as const

/** Rows that are looked through before others have their turn. */
const READ_AHEAD = 5_000

const plain = (keyword: string) => keyword.toUpperCase().replace(/[-_\s]+/g, '')
/** Keywords of the file itself, of its processing and of the sky: no setting of a camera. */
const notAsked =
  /^(SIMPLE|BITPIX|NAXIS\d*|EXTEND|BZERO|BSCALE|BUNIT|BLANK|CHECKSUM|DATASUM|COMMENT|HISTORY|END|XTENSION|[PG]COUNT|DATE.*|TIME.*|MJD.*|JD.*|EQUINOX|RADESYS|RA|DEC|OBJCT.*|C(TYPE|RPIX|RVAL|DELT|UNIT|ROTA)\d|CD\d_\d|AIRMASS|FOC.*|GUIDE.*|WIND.*|HUMIDITY|DEWPOINT|PRESSURE)$/

/**
 * One question for each writing program whose newest frame leaves a needed setting unknown while its header has cards that
 * nobody knows the meaning of, or whose value cannot be told. Asked at first sight; an answer holds for every frame of it.
 */
export async function programQuestions({ db }: Core): Promise<ProgramQuestion[]> {
  const known = new Set([...spellings, ...userSpellings(db)].map(({ keyword }) => plain(keyword)))
  const answers = programAnswers(db)
  const programs = await inSlices(programsOf(db))
  return programs.flatMap(({ program, id, frames }) => {
    const frame = frameById(db, id)
    const bytes = cardsOf(db, id)
    if (!frame || !bytes) return []
    const answered = new Set(
      answers
        .filter((one) => program.toLowerCase().startsWith(one.program.trim().toLowerCase()))
        .map(({ keyword }) => plain(keyword)),
    )
    const open = parseHeader(bytes).cards.filter(
      ({ keyword, value }) =>
        value !== null && value !== undefined && !notAsked.test(keyword) && !answered.has(plain(keyword)),
    )
    for (const setting of needed) {
      if (frame[setting] !== null) continue
      const conflict = frame.conflicts.find((one) => one.setting === setting)
      const candidates = open.filter(({ keyword, value }) =>
        conflict?.found.length
          ? conflict.found.some((card) => plain(card.keyword) === plain(keyword))
          : !known.has(plain(keyword)) && couldBe(setting, value),
      )
      if (candidates.length === 0) continue
      const said = candidates.map(({ keyword, value, comment }) => ({ keyword, value: String(value), comment }))
      return [{ program, setting, text: ask(program, setting, conflict?.text), candidates: said, frames }]
    }
    return []
  })
}

/** Every writing program, that of the newest frame first. */
function* programsOf(db: Readable): Steps<{ program: string; id: number; frames: number }[]> {
  const programs = new Map<string, { program: string; id: number; frames: number }>()
  const last = highestFrameId(db)
  for (let after = 0; after < last; after += READ_AHEAD) {
    for (const one of newestOfPrograms(db, after, after + READ_AHEAD))
      programs.set(one.program, { ...one, frames: one.frames + (programs.get(one.program)?.frames ?? 0) })
    yield
  }
  return [...programs.values()].sort((a, b) => b.id - a.id)
}

function couldBe(setting: SettingName, value: unknown): boolean {
  const isNumber = typeof value === 'number' || (typeof value === 'string' && /^\s*[-+]?\d/.test(value))
  return definitions[setting].type === 'words' ? typeof value === 'string' : isNumber
}

function ask(program: string, setting: string, conflict: string | undefined): string {
  const doubt = conflict ? ` ${conflict}` : ''
  return `${program} does not say its ${sayField(setting)} in a way that is known: which of these means it, if any?${doubt}`
}
