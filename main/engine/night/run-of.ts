import { Refusal, type Answer, type Run } from '../../contract/index.ts'
import { frameById } from '../../../db/tables/frames.ts'
import type { Core } from '../core.ts'

/**
 * The frames of a frame's run, and those that would be in it if they were not aside (or were, if it is), by time.
 * @throws Refusal where there is no such frame
 */
export function runOf(core: Core, id: number): Answer<'run'> {
  const frame = frameById(core.db, id)
  if (!frame) throw new Refusal(`There is no frame ${id} in the log.`)
  const { runs, frames } = core.nights.page(frame.night)
  const own = runs.find((run) => run.frameIds.includes(id))
  const ids = new Set(own ? runs.filter((run) => isLike(run, own)).flatMap((run) => run.frameIds) : [id])
  const listed = frames.filter((one) => ids.has(one.id))
  listed.sort((a, b) => compare(a.startedAt ?? '~', b.startedAt ?? '~') || a.id - b.id)
  return {
    frames: listed.map(({ figures, ...one }) => ({
      ...one,
      median: figures?.median ?? null,
      noise: figures?.noise ?? null,
    })),
  }
}

const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0)

const FIELDS = [
  'kind',
  'target',
  'camera',
  'filter',
  'gain',
  'offset',
  'setTempC',
  'exposureS',
  'binning',
  'rig',
] as const
const isLike = (run: Run, own: Run) => FIELDS.every((field) => run[field] === own[field])
