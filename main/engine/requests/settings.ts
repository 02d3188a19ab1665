import { defaultTolerances, Refusal, type Asked, type Handlers, type SettingsAnswer } from '../../contract/index.ts'
import type { settingsRequests } from '../../contract/requests/settings.ts'
import { asideWords } from '../../frame/vocabulary.ts'
import { defaultSensorRules } from '../../rules/sensor-rules.ts'
import { immediately, type Writable } from '../../../db/handle.ts'
import { dropSetting, putSetting, setting } from '../../../db/tables/settings.ts'
import {
  programAnswers,
  putProgramAnswer,
  putSpelling,
  removeProgramAnswer,
  removeSpelling,
  userSpellings,
} from '../../../db/tables/spellings.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { checkTolerances, withRules } from '../limits.ts'
import { describeAgain, noteAffected } from '../rigs/describe-again.ts'
import { ditherOf, editedRulesOf, siteSetting, tolerancesOf, wordsOf } from '../settings.ts'
import { meaningOf, meanings } from '../spelling/meanings.ts'
import { programQuestions } from '../spelling/questions.ts'

export const settingsHandlers = (core: Core): Pick<Handlers, keyof typeof settingsRequests> => {
  const { db } = core
  const answer = () => ({ settings: settingsNow(db) })
  const judgeAgain = () => {
    core.changed('settings', 'night', 'library')
    return answer()
  }
  /** Writes what frames are understood by, and understands them anew. */
  const understand = async (write: () => void) => {
    immediately(db, () => {
      write()
      noteAffected(db, 'all')
    })
    core.changed('settings', 'night')
    const frames = await describeAgain(core)
    return { ...answer(), frames }
  }
  return {
    settings: answer,
    setTolerances: (change) => {
      const after = { ...tolerancesOf(db), ...withoutUndefined(change) }
      checkTolerances(after)
      putSetting(db, 'tolerances', { ...stored(db, 'tolerances'), ...withoutUndefined(change) })
      return judgeAgain()
    },
    resetTolerances: ({ names }) => {
      const kept = stored(db, 'tolerances')
      for (const name of names ?? Object.keys(kept)) delete kept[name]
      checkTolerances({ ...defaultTolerances, ...kept })
      putSetting(db, 'tolerances', kept)
      return judgeAgain()
    },
    setSensorRules: ({ class: chosen, values }) => {
      const edited = editedRulesOf(db)
      const after = withRules(edited[chosen] ?? defaultSensorRules[chosen], values)
      putSetting(db, 'sensorRules', { ...edited, [chosen]: after })
      return judgeAgain()
    },
    resetSensorRules: ({ class: chosen }) => {
      const { [chosen]: _, ...others } = editedRulesOf(db)
      putSetting(db, 'sensorRules', others)
      return judgeAgain()
    },
    setSite: ({ site }) => {
      if (site) putSetting(db, 'site', site)
      else dropSetting(db, 'site')
      return judgeAgain()
    },
    setDither: ({ dither }) => {
      if (dither === null) dropSetting(db, 'dither')
      else putSetting(db, 'dither', dither)
      return judgeAgain()
    },
    setWords: ({ asideWords, ...words }) =>
      understand(() => {
        const { asideWords: before, ...rest } = wordsOf(db)
        const own = asideWords === undefined ? before : (asideWords ?? undefined)
        putSetting(db, 'words', { ...rest, ...withoutUndefined(words), ...(own && { asideWords: own }) })
      }),
    addSpelling: (asked) => understand(() => addSpelling(db, asked)),
    removeSpelling: ({ keyword }) =>
      understand(() => {
        if (!removeSpelling(db, keyword)) throw new Refusal(`There is no spelling of yours for "${keyword}".`)
      }),
    programQuestions: async () => ({ questions: await programQuestions(core) }),
    answerProgram: ({ program, keyword, means, unit }) =>
      understand(() => {
        const meaning =
          means === 'ignore' ? { means } : { means: meaningOf(means, unit).setting, ...unitOf(means, unit) }
        putProgramAnswer(db, { program, keyword, ...meaning } as never, instant(core.clock))
      }),
    removeProgramAnswer: ({ program, keyword }) =>
      understand(() => {
        if (!removeProgramAnswer(db, program, keyword))
          throw new Refusal(`"${keyword}" of ${program} was not answered: there is nothing to take back.`)
      }),
  }
}

function settingsNow(db: Writable): SettingsAnswer {
  const edited = editedRulesOf(db)
  const words = wordsOf(db)
  return {
    tolerances: tolerancesOf(db),
    defaultTolerances,
    sensorRules: (['glow', 'quiet', 'yours'] as const).map((chosen) => ({
      rules: edited[chosen] ?? defaultSensorRules[chosen],
      edited: edited[chosen] !== undefined,
    })),
    site: siteSetting(db),
    dither: ditherOf(db),
    words: {
      filterAliases: words.filterAliases ?? {},
      kindWords: words.kindWords ?? {},
      asideWords: words.asideWords ?? null,
    },
    asideWordsDelivered: [...asideWords],
    spellings: userSpellings(db).map(({ keyword, setting, unit = null }) => ({ keyword, setting, unit })),
    answers: programAnswers(db).map(({ unit = null, ...rest }) => ({ ...rest, unit })),
    meanings,
  }
}

function addSpelling(db: Writable, { keyword, setting: named, unit }: Asked<'addSpelling'>): void {
  if (!/^[A-Za-z0-9_-]+( [A-Za-z0-9_-]+)*$/.test(keyword))
    throw new Refusal(`"${keyword}" is no keyword of a header: letters, digits, hyphen and underscore.`)
  putSpelling(db, { keyword, setting: meaningOf(named, unit).setting, ...unitOf(named, unit) })
}

const unitOf = (named: string, unit: string | null) => {
  const { unit: own } = meaningOf(named, unit)
  return own === null ? {} : { unit: own }
}

const stored = (db: Writable, name: string) => ({ ...(setting(db, name) as Record<string, number> | undefined) })

const withoutUndefined = <T extends object>(values: T): T =>
  Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined)) as T
