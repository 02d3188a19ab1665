import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { sensorRulesSchema, tolerancesSchema } from '../rules.ts'
import { KINDS } from '../words.ts'
import { placeSchema } from './rigs.ts'

const sensorClass = sensorRulesSchema.shape.class
const word = z.string().trim().min(1, 'Say which word.').max(80, 'Say it in 80 letters at most.')

/** This keyword means that setting, in this unit where it is not the usual one. */
export const spellingSchema = z.object({ keyword: z.string(), setting: z.string(), unit: z.string().nullable() })
/** What a keyword of one writing program means; `means` is a setting, or "ignore". */
export const programAnswerSchema = z.object({
  program: z.string(),
  keyword: z.string(),
  means: z.string(),
  unit: z.string().nullable(),
})

/** One question about a writing program: a setting that its headers leave unknown, and the cards that may hold it. */
export const programQuestionSchema = z.object({
  /** Name and version as its headers have it: what `answerProgram` takes. */
  program: z.string(),
  setting: z.string(),
  /** One sentence for a person. */
  text: z.string(),
  candidates: z.array(z.object({ keyword: z.string(), value: z.string(), comment: z.string() })),
  /** How many frames wait for the answer. */
  frames: z.number(),
})
export type ProgramQuestion = z.infer<typeof programQuestionSchema>

export const wordsSchema = z.object({
  /** Another name of a filter → the name to use. */
  filterAliases: z.record(z.string(), z.string()),
  /** A word for a kind beyond the built-in ones → the kind. */
  kindWords: z.record(z.string(), z.enum(KINDS)),
  /** Words that set a frame aside; null: the built-in ones. */
  asideWords: z.array(z.string()).nullable(),
})

export const settingsAnswerSchema = z.object({
  tolerances: tolerancesSchema,
  defaultTolerances: tolerancesSchema,
  /** One entry a class, each value with its reason; `edited`: no longer as delivered. */
  sensorRules: z.array(z.object({ rules: sensorRulesSchema, edited: z.boolean() })),
  /** The usual site: for the Sun and the night's bounds where neither header nor rig names one. */
  site: placeSchema.nullable(),
  /** Whether lights are dithered; null until told. */
  dither: z.boolean().nullable(),
  words: wordsSchema,
  /** Words that set a frame aside as delivered: for a form. */
  asideWordsDelivered: z.array(z.string()).optional(),
  spellings: z.array(spellingSchema),
  answers: z.array(programAnswerSchema),
  /** What a keyword can mean: for a form. */
  meanings: z.array(z.object({ setting: z.string(), unit: z.string().nullable(), units: z.array(z.string()) })),
})
export type SettingsAnswer = z.infer<typeof settingsAnswerSchema>

const all = z.object({ settings: settingsAnswerSchema })
/** Settings, and how many frames were described again because of them. */
const described = all.extend({ frames: z.number() })

export const settingsRequests = {
  settings: asks(nothing, all),
  /** Those named; everything is judged again. */
  setTolerances: does(tolerancesSchema.partial().strict(), all),
  /** As delivered: those named, or all. */
  resetTolerances: does(z.object({ names: z.array(tolerancesSchema.keyof()).optional() }), all),
  /** Values of a class, each with the reason for it; a reason left out stays. */
  setSensorRules: does(
    z.object({
      class: sensorClass,
      values: z.record(
        z.string(),
        z.object({ value: z.union([z.number(), z.boolean()]), reason: z.string().trim().min(1).max(300).optional() }),
      ),
    }),
    all,
  ),
  resetSensorRules: does(z.object({ class: sensorClass }), all),
  setSite: does(z.object({ site: placeSchema.nullable() }), all),
  setDither: does(z.object({ dither: z.boolean().nullable() }), all),
  /** Those named; frames are described again. */
  setWords: does(wordsSchema.partial().strict(), described),
  addSpelling: does(z.object({ keyword: word, setting: word, unit: word.nullable().default(null) }), described),
  removeSpelling: does(z.object({ keyword: word }), described),
  programQuestions: asks(nothing, z.object({ questions: z.array(programQuestionSchema) })),
  answerProgram: does(
    z.object({ program: word, keyword: word, means: word, unit: word.nullable().default(null) }),
    described,
  ),
  removeProgramAnswer: does(z.object({ program: word, keyword: word }), described),
}
