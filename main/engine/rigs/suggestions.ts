import { z } from 'zod'
import { Refusal, type Asked, type LoggedChange } from '../../contract/index.ts'
import { suggestChanges, type ChangeSuggestion } from '../../match/suggestions.ts'
import type { Readable } from '../../../db/handle.ts'
import { lightsOfRigs, nightSumsBefore } from '../../../db/tables/frames.ts'
import { putSetting, setting } from '../../../db/tables/settings.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'
import type { Core } from '../core.ts'
import { logChange } from './train-log.ts'

const DISMISSED = 'dismissedChanges'
const dismissedSchema = z.array(z.string())

/** Nights with lights that are looked at: what was passed over for longer is not worth asking about. */
const NIGHTS = 40
/** More than this were never dismissed by hand; the oldest are of nights that nobody looks at any more. */
const MOST_DISMISSED = 1_000

/** Train changes that headers hint at, and that were neither logged nor dismissed. Nothing is ever applied by itself. */
export function suggestedChanges({ db }: Core): ChangeSuggestion[] {
  const frames = nightsWithLights(db).flatMap((night) => lightsOfRigs(db, night))
  const dismissed = new Set(dismissedSchema.parse(setting(db, DISMISSED) ?? []))
  return suggestChanges(frames, trainChanges(db)).filter((one) => !dismissed.has(one.id))
}

/** The newest of them. */
function nightsWithLights(db: Readable): string[] {
  const nights: string[] = []
  for (let before = '~'; nights.length < NIGHTS;) {
    const more = nightSumsBefore(db, before, NIGHTS)
    if (more.length === 0) break
    for (const { night, lights } of more) if (lights > 0) nights.push(night)
    before = more[more.length - 1].night
  }
  return nights.slice(0, NIGHTS)
}

const find = (core: Core, id: string): ChangeSuggestion => {
  const found = suggestedChanges(core).find((one) => one.id === id)
  if (!found) throw new Refusal('This change is not suggested any more: it was logged or dismissed.')
  return found
}

export function confirmChange(core: Core, { id, text, scope }: Asked<'confirmChange'>): LoggedChange {
  const { rig, at, scope: hinted, text: said } = find(core, id)
  return logChange(core, { rig, at, filter: null, scope: scope ?? hinted, text: text || said })
}

export function dismissChange(core: Core, id: string): void {
  find(core, id)
  const before = dismissedSchema.parse(setting(core.db, DISMISSED) ?? [])
  putSetting(core.db, DISMISSED, [...before, id].slice(-MOST_DISMISSED))
  core.changed('settings')
}
