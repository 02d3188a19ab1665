import type { Frame, Master } from '../../contract/index.ts'
import { compareField, flatFields, flatKey } from '../../frame/keys.ts'
import type { AcceptedFlat } from '../../rules/state.ts'
import type { Readable } from '../../../db/handle.ts'
import { blackLevel, earlierFlats } from '../../../db/tables/earlier-flats.ts'

/**
 * How the colours of each filter's flats stood to each other before this night: its masters and the raw flats that went into
 * them; where nothing was built, the flats of earlier nights that were kept. Nothing for a filter that has no name.
 * @param frames of the night
 */
export function acceptedFlats(
  db: Readable,
  frames: readonly Frame[],
  masters: readonly Master[],
  night: { date: string; beginsMs: number },
): AcceptedFlat[] {
  const kinds = new Map<string, Frame>()
  for (const frame of frames)
    if (frame.kind === 'flat' && !frame.aside && frame.filter !== null && frame.figures?.channels)
      kinds.set(flatKey(frame), frame)
  return [...kinds].flatMap(([key, sample]) => {
    const { camera, body, train, filter } = sample
    const raw = earlierFlats(db, key, night.date)
    const built = raw.filter((flat) => flat.built)
    const made = ofMasters(sample, masters, night.beginsMs)
    const accepted = made.length + built.length > 0 ? built : raw
    const levels = new Map(accepted.map(({ darkKey }) => [darkKey, 0]))
    for (const darkKey of levels.keys()) levels.set(darkKey, blackLevel(db, darkKey) ?? 0)
    return [
      ...made,
      ...accepted.map(({ rig, channels: { R, G, B }, darkKey }) => ({
        rig,
        channels: { R: R.median, G: G.median, B: B.median },
        pedestal: levels.get(darkKey) ?? 0,
      })),
    ].map((flat) => ({ ...flat, camera, body, train, filter }))
  })
}

/** Of masters whose black level was taken off: only their colours tell the light source. */
const ofMasters = (sample: Frame, masters: readonly Master[], beginsMs: number) =>
  masters
    .filter(
      (m) => m.kind === 'flat' && m.state !== 'damaged' && (m.subtracted === 'bias' || m.subtracted === 'darkFlat'),
    )
    .filter((m) => Date.parse(m.madeAt ?? '') < beginsMs)
    .filter((m) => flatFields.every((field) => compareField(m[field], sample[field]) === 'equal'))
    .flatMap(({ rig, figures }) => {
      const balance = figures?.flat?.balance
      return balance ? [{ rig, channels: balance, pedestal: 0 }] : []
    })
