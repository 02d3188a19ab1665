import type { Rig, RigSpanTold } from '../../contract/index.ts'
import type { RigSpan } from '../../../db/tables/rigs.ts'

/** Before every frame: what holds "from the beginning". */
export const BEGINNING = '0000-01-01T00:00:00.000Z'

const fields = ['folder', 'camera', 'body', 'train', 'filter', 'siteName', 'siteLatDeg', 'siteLongDeg'] as const
type Field = (typeof fields)[number]
export type Standing = Pick<RigSpan, Field>

export const nothingTold: Standing = {
  folder: null,
  camera: null,
  body: null,
  train: null,
  filter: null,
  siteName: null,
  siteLatDeg: null,
  siteLongDeg: null,
}

/**
 * Lays what is told over the spans of one rig. Each field holds from `since` until it was next told otherwise. Without `since`,
 * a field that was never told holds from the beginning (it names what was there all the time), one that was told otherwise
 * holds from now on (it was changed).
 * @param spans of this rig, by time; may be empty
 */
export function tellSpans(
  rig: string,
  spans: readonly RigSpan[],
  told: Partial<Standing>,
  since: string | null,
  now: string,
): RigSpan[] {
  let result: RigSpan[] = spans.length ? [...spans] : [{ rig, since: BEGINNING, ...nothingTold }]
  for (const field of fields) {
    const value = told[field]
    if (value === undefined) continue
    const wasTold = result.some((span) => span[field] !== null)
    result = tellField(result, field, value, since ?? (wasTold ? now : BEGINNING))
  }
  return withoutRepeats(result)
}

function tellField(spans: RigSpan[], field: Field, value: string | number | null, since: string): RigSpan[] {
  const before = spans.findLast((span) => span.since <= since) ?? spans[0]
  const old = before[field]
  const begun = spans.some((span) => span.since === since)
    ? spans
    : [...spans, { ...before, since }].sort((a, b) => (a.since < b.since ? -1 : 1))
  let inherited = true
  return begun.map((span) => {
    if (span.since < since) return span
    inherited &&= span.since === since || span[field] === old
    return inherited ? { ...span, [field]: value } : span
  })
}

/** A span that says what the one before it says is none. */
const withoutRepeats = (spans: RigSpan[]): RigSpan[] =>
  spans.filter((span, i) => i === 0 || fields.some((field) => span[field] !== spans[i - 1][field]))

/** A rig made of its folder alone. */
export const spanOfFolder = (rig: string, folder: string): RigSpan => ({
  rig,
  since: BEGINNING,
  ...nothingTold,
  folder,
})

export function toldSpan(span: RigSpan): RigSpanTold {
  const { since, folder, camera, body, train, filter, siteName, siteLatDeg, siteLongDeg } = span
  const site =
    siteLatDeg === null || siteLongDeg === null ? null : { name: siteName, latDeg: siteLatDeg, longDeg: siteLongDeg }
  return { since: since === BEGINNING ? null : since, folder, camera, body, train, filter, site }
}

/** The site of a request as the spans hold it; undefined where it was left out. */
export const siteFields = (site: Rig['site'] | undefined): Partial<Standing> =>
  site === undefined
    ? {}
    : { siteName: site?.name ?? null, siteLatDeg: site?.latDeg ?? null, siteLongDeg: site?.longDeg ?? null }

/** True where a filter was ever named for this rig's drawer: filters are changed by hand there. */
export const isFilterByHand = (spans: readonly RigSpan[]): boolean => spans.some((span) => span.filter !== null)
