import type { Ask, Rig } from '../../../main/contract/index.ts'
import { typedNumber } from './tolerances.ts'

/** What can be typed about a rig; empty means: not known. */
export interface RigTyped {
  name: string
  folder: string
  train: string
  camera: string
  body: string
  filter: string
  siteName: string
  lat: string
  long: string
}

export const typedOf = (rig: Rig | null): RigTyped => ({
  name: rig?.name ?? '',
  folder: rig?.folder ?? '',
  train: rig?.train ?? '',
  camera: rig?.camera ?? '',
  body: rig?.body ?? '',
  filter: rig?.filter ?? '',
  siteName: rig?.site?.name ?? '',
  lat: rig?.site ? String(rig.site.latDeg) : '',
  long: rig?.site ? String(rig.site.longDeg) : '',
})

type Place = { name: string | null; latDeg: number; longDeg: number }

/** A place from what was typed: null where nothing was, undefined where it is half a place or no numbers. */
export function placeFrom(typed: Pick<RigTyped, 'siteName' | 'lat' | 'long'>): Place | null | undefined {
  if (!typed.siteName.trim() && !typed.lat.trim() && !typed.long.trim()) return null
  const [latDeg, longDeg] = [typedNumber(typed.lat), typedNumber(typed.long)]
  if (!(Math.abs(latDeg) <= 90) || !(Math.abs(longDeg) <= 180)) return undefined
  return { name: typed.siteName.trim() || null, latDeg, longDeg }
}

/** Only what differs from what is known: the rest keeps the moment since which it holds. Null: a place that is none. */
export function rigAsk(rig: Rig | null, typed: RigTyped): Ask<'setRig'> | null {
  const site = placeFrom(typed)
  if (site === undefined) return null
  const ask: Ask<'setRig'> = { name: rig?.name ?? typed.name.trim() }
  const before = typedOf(rig)
  for (const field of ['folder', 'train', 'camera', 'body', 'filter'] as const)
    if (typed[field].trim() !== before[field]) ask[field] = typed[field].trim() || null
  if (JSON.stringify(site) !== JSON.stringify(rig?.site ?? null)) ask.site = site
  return ask
}
