import { Refusal, type Asked, type LoggedChange, type Scope, type TrainChange } from '../../contract/index.ts'
import { nameFilter } from '../../frame/filter.ts'
import { createEpochs } from '../../match/epochs.ts'
import { immediately, type Readable } from '../../../db/handle.ts'
import { logTrainChange as insert, trainChanges, undoTrainChange } from '../../../db/tables/train-changes.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { wordsOf } from '../settings.ts'
import { remember } from '../undo.ts'
import { refreshEpochs } from './follow-masters.ts'
import { whatWouldBeLost, type Loss } from './last-look.ts'
import { spansOf, theRig } from './list.ts'

interface NewChange {
  rig: string
  scope: Scope
  filter: string | null
  at: string
  text: string
  closes: boolean
}

/** Logs a train change. Answers with what lights before it still need and can't get any more. */
export function logChange(core: Core, asked: Asked<'logTrainChange'>): LoggedChange {
  const { db, clock } = core
  const now = instant(clock)
  const { text, scope, at = now } = asked
  if (at > now) throw new Refusal('A train change is logged once it has happened: its time lies ahead.')
  const rig = theRig(db, asked.rig)
  const filter = filterOf(db, rig, scope, asked.filter, at)
  const change = { rig, scope, filter, at, text, closes: false }
  const { losing } = whatWouldBeLost(core, rig, at, change)
  return { ...keep(core, change), losing }
}

/** "I'm taking it apart": the last look, and with `confirm` the end of the epoch. */
export function takeApart(core: Core, { rig: named, confirm, text }: Asked<'takeApart'>) {
  const rig = theRig(core.db, named)
  const at = instant(core.clock)
  const loss: Loss = whatWouldBeLost(core, rig, at)
  if (!confirm) return { rig, ...loss, change: null }
  const change = keep(core, { rig, scope: 'train', filter: null, at, text: text || 'Taken apart.', closes: true })
  return { rig, ...loss, change: { ...change, losing: loss.losing } }
}

function keep(core: Core, change: NewChange): LoggedChange {
  const { db, clock } = core
  const id = immediately(db, () => {
    const id = insert(db, change, instant(clock))
    refreshEpochs(db)
    remember(core, `A change of rig ${change.rig} was logged: ${change.text}`, { do: 'change', change: id })
    return id
  })
  core.changed('night', 'library', 'settings')
  return told(db, id)
}

/** Takes a change back; it stays in the log. */
export function undoChange(core: Core, id: number): LoggedChange {
  const { db, clock } = core
  immediately(db, () => {
    const change = trainChanges(db).find((one) => one.id === id)
    if (!change) throw new Refusal(`There is no train change ${id} in the log.`)
    if (!undoTrainChange(db, id, instant(clock))) throw new Refusal(`Train change ${id} was taken back already.`)
    refreshEpochs(db)
    remember(core, `A change of rig ${change.rig} was taken back: ${change.text}`, { do: 'change back', change: id })
  })
  core.changed('night', 'library', 'settings')
  return told(db, id)
}

function told(db: Readable, id: number): LoggedChange {
  const changes = trainChanges(db)
  const change = changes.find((one) => one.id === id) as TrainChange
  const { rig, filter, at, undoneAt } = change
  const epoch = undoneAt === null ? createEpochs(changes).at(rig, filter, Date.parse(at)).id : null
  return { ...change, epoch, losing: [] }
}

/** A change that touches one filter's flats says which: the one named, or the one in the drawer. */
function filterOf(db: Readable, rig: string, scope: Scope, named: string | null, at: string): string | null {
  if (scope !== 'filter') {
    if (named !== null)
      throw new Refusal(
        'A filter is named only where no more than its flats are touched: leave it out, or say scope filter.',
      )
    return null
  }
  const spans = spansOf(db, rig)
  const filter = named ?? (spans.findLast((span) => span.since <= at) ?? spans[0])?.filter ?? null
  if (filter === null) throw new Refusal('Say which filter was touched.')
  return nameFilter(filter, wordsOf(db).filterAliases)
}
