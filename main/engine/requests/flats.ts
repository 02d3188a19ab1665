import type { Handlers } from '../../contract/index.ts'
import { flatsNow } from '../../rules/flats-now.ts'
import { lookAt } from '../../rules/view.ts'
import { lastLightSource } from '../../../db/tables/frame-hands.ts'
import type { Core } from '../core.ts'
import { decide, saidLit } from '../rigs/decide.ts'

export const flatHandlers = (core: Core): Pick<Handlers, 'flatsNow' | 'setLightSource'> => ({
  flatsNow: ({ night = core.nights.usual() }) => ({
    night,
    flats: flatsNow(lookAt(core.nights.state(night))).map(({ rig, ...flat }) => ({
      ...flat,
      suggestedSource: lastLightSource(core.db, rig),
    })),
  }),
  setLightSource: ({ frames, source }) => decide(core, frames, { lightSource: source }, saidLit(frames.length, source)),
})
