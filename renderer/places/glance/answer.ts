import type { Frame, Tonight } from '../../../main/contract/index.ts'
import { NEEDS, VERDICTS, type VerdictWord } from '../../../main/contract/words.ts'
import { clockTime, exposure } from '../../parts/format.ts'
import { capital, kindWord, verdictWord } from '../../parts/labels.ts'

/** The answer alone, in words that can be read across the yard. Pure. */

/** Its own shape for each state that is no verdict, so that none is told by its words alone. */
export type Shape = VerdictWord | 'act' | 'stopped' | 'logged'

export interface Answer {
  shape: Shape
  words: string
}

/** What one rig shows, or the whole page: answers in large letters, worst first, and a line of small ones. */
export interface Block {
  id: string
  answers: Answer[]
  detail: string
}

/** Why nothing new can come; null while all is well. */
export type Silence = 'host' | 'engine' | null

type Entry = Tonight['latest'][number]
type Shown = Pick<Tonight, 'folders'> & { latest: readonly Entry[]; urgent: readonly { id: string; text: string }[] }

const silenceWords: Record<NonNullable<Silence>, { words: string; detail: string }> = {
  host: { words: 'No contact', detail: 'No connection to Nightshelf; below is what it said last.' },
  engine: { words: 'Restarting', detail: 'The engine is being started again; below is what it said last.' },
}

/** Everything to be shown, from the top: what stops us, what must be done now, then each rig. */
export function blocksOf({ latest, urgent, folders }: Shown, silence: Silence): Block[] {
  const blocks: Block[] = []
  if (silence) blocks.push(alone('silence', 'stopped', silenceWords[silence]))
  const lost = folders.filter(({ reachable }) => !reachable)
  if (lost[0]) blocks.push(alone('folder', 'stopped', { words: 'Folder gone', detail: lost[0].path }))
  const [first, ...others] = urgent
  if (first) {
    const more = others.length ? ` (and ${others.length} more)` : ''
    blocks.push(alone('urgent', 'act', { words: 'Act now', detail: `${first.text}${more}` }))
  }
  for (const entry of latest)
    blocks.push({
      id: `rig ${entry.rig}`,
      answers: answersOf(entry),
      detail: detailOf(entry, latest.length > 1),
    })
  if (!blocks.length)
    blocks.push(alone('none', 'logged', { words: 'No frame yet', detail: 'The first that lands is answered here.' }))
  return blocks
}

const alone = (id: string, shape: Shape, { words, detail }: { words: string; detail: string }): Block => ({
  id,
  answers: [{ shape, words }],
  detail,
})

/** What a frame still lacks, worst first; "Matched" when it lacks nothing. */
export function answersOf({ frame, verdicts }: Pick<Entry, 'frame' | 'verdicts'>): Answer[] {
  if (frame.state === 'broken') return [{ shape: 'stopped', words: 'Broken frame' }]
  const judged = NEEDS.flatMap((need) => (verdicts[need] ? [{ need, word: verdicts[need].verdict }] : []))
  if (!judged.length)
    return [{ shape: 'logged', words: frame.aside ? 'Set aside' : `${capital(kindWord[frame.kind])} logged` }]
  const lacking = judged.filter(({ word }) => word !== 'matched')
  if (!lacking.length) return [{ shape: 'matched', words: 'Matched' }]
  return lacking
    .toSorted((a, b) => VERDICTS.indexOf(b.word) - VERDICTS.indexOf(a.word))
    .map(({ need, word }) => ({ shape: word, words: capital(`${kindWord[need]} ${verdictWord[word]}`) }))
}

function detailOf({ frame, number, rig }: Entry, several: boolean): string {
  return [
    several ? (rig ?? 'unnamed rig') : null,
    frame.startedAt && clockTime(frame.startedAt),
    `${kindWord[frame.kind]} ${number}`,
    (frame as Frame).target,
    frame.filter,
    frame.exposureS === null ? null : exposure(frame.exposureS),
  ]
    .filter(Boolean)
    .join(' · ')
}
