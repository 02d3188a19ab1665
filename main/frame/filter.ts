import { filterAliases } from './vocabulary.ts'
import type { FrameContext, RigContext } from './facts.ts'
import type { Resolver } from './resolve.ts'
import { readWords } from './values.ts'

/** No glass in the path. That is known, and another thing than not knowing: it matches only flats without a filter. */
export const noFilter = 'none'

/**
 * The filter, by the one name used for it. Where the header names none, or says that there is none in the wheel, the one that
 * the rig's drawer holds counts. Several wheels in series (FILTER1, FILTER2) are joined: "Ha + polariser".
 */
export function readFilter(resolve: Resolver, context: FrameContext, rig: RigContext | null): string | null {
  const name = (text: string) => nameFilter(text, context.filterAliases)
  const single = resolve.words('filter', name)
  const inConflict = single === null && resolve.conflicts.some((conflict) => conflict.setting === 'filter')
  if (inConflict) return null
  const header = single ?? inSeries(resolve, name)
  const drawer = rig?.filter ? name(rig.filter) : null
  return header === null || header === noFilter ? (drawer ?? header) : header
}

function inSeries(resolve: Resolver, name: (text: string) => string): string | null {
  const slots = resolve.found('filterInSeries').flatMap((card) => {
    const text = readWords(card.value)
    return text === null ? [] : [name(text)]
  })
  if (!slots.length) return null
  return slots.filter((slot) => slot !== noFilter).join(' + ') || noFilter
}

/** One name for a filter that goes by several; user's aliases first. Unknown names stay as they are, without doubled blanks. */
export function nameFilter(text: string, own: FrameContext['filterAliases'] = {}): string {
  const name = text.trim().replace(/\s+/g, ' ')
  const key = name.toLowerCase()
  for (const [alias, canonical] of Object.entries(own)) if (alias.trim().toLowerCase() === key) return canonical
  if (/^(none|no filter|nofilter|empty|open)$/.test(key)) return noFilter
  return Object.hasOwn(filterAliases, key) ? filterAliases[key] : name
}
