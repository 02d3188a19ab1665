import { setImmediate as breathe } from 'node:timers/promises'
import { Refusal, type Handlers, type Tonight } from '../../contract/index.ts'
import { parseHeader } from '../../fits/header.ts'
import { cardsOf } from '../../../db/tables/cards.ts'
import { frameById, groupTempC, nightSumsBefore, unmeasuredOfNight, type NightSum } from '../../../db/tables/frames.ts'
import { acknowledgeNotice } from '../../../db/tables/notices.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { sayCards } from '../files/cards.ts'
import { nightLog } from '../night/night-log.ts'
import { findNights } from '../night/find-nights.ts'
import { imageOf } from '../files/image.ts'
import { nextFrameAt } from '../night/pace.ts'
import { asReached } from '../night/night-book.ts'
import { latestOfRigs } from '../night/latest.ts'
import { runOf } from '../night/run-of.ts'

type Names = 'tonight' | 'nights' | 'findNights' | 'nightLog' | 'frame' | 'image' | 'run' | 'acknowledgeNotice'

export const nightHandlers = (core: Core): Pick<Handlers, Names> => ({
  tonight: ({ night }) => tonight(core, night ?? core.nights.usual()),
  nightLog: ({ night = core.nights.usual() }) => nightLog(core, night),
  nights: async () => ({ nights: await listNights(core) }),
  findNights: async ({ target }) => ({ nights: await findNights(core.db, target) }),
  frame: ({ id }) => {
    const stored = frameById(core.db, id)
    if (!stored) throw new Refusal(`There is no frame ${id} in the log.`)
    const frame = asReached(core, stored)
    return {
      frame,
      verdicts: core.judging.verdicts(frame, groupTempC(core.db, frame)),
      cards: readCards(cardsOf(core.db, id)),
    }
  },
  image: (asked) => imageOf(core, asked),
  run: ({ frame }) => runOf(core, frame),
  acknowledgeNotice: ({ id }) => {
    if (!acknowledgeNotice(core.db, id, instant(core.clock)))
      throw new Refusal(`No notice "${id}" is open: it has closed itself, or its name is another.`)
    core.changed('night')
    return {}
  },
})

function tonight(core: Core, night: string): Tonight {
  const { frames, runs, notices, shortfall, site, sun, roomH } = core.nights.page(night)
  const now = core.clock.now()
  // Nobody waits for figures of files that cannot be had now.
  const unreached = frames.filter(({ state, figures }) => state === 'out of reach' && figures === null)
  return {
    night,
    runs,
    notices,
    shortfall,
    figuresPending: Math.max(0, unmeasuredOfNight(core.db, night) - unreached.length),
    now: core.nights.nowOf(night).toISOString(),
    latest: latestOfRigs(core, frames),
    changes: trainChanges(core.db).filter((change) => isOfNight(core, change.at, night)),
    sun,
    site,
    folders: core.watches().map(({ path, lostSince }) => ({ path, reachable: lostSince === null })),
    nextFrameAt: night === core.nights.current() ? nextFrameAt(frames, now) : null,
    roomH,
    catchingUp: core.catchingUp(),
  }
}

/** Nights that are summed before a frame that landed meanwhile has its turn (about 20 ms where nights are long). */
const NIGHTS_AT_ONCE = 30

async function listNights({ db }: Core): Promise<NightSum[]> {
  const nights: NightSum[] = []
  for (;;) {
    const more = nightSumsBefore(db, nights.at(-1)?.night ?? '~', NIGHTS_AT_ONCE)
    nights.push(...more)
    if (more.length < NIGHTS_AT_ONCE) return nights
    await breathe()
  }
}

const isOfNight = (core: Core, at: string, night: string) => core.nights.nightOf(Date.parse(at)) === night

/** Every card of a stored header; a second one (the image's own) follows the primary's. */
const readCards = (bytes: Buffer | undefined) => (bytes ? sayCards(parseHeader(bytes).cards) : [])
