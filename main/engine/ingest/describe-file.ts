import { sep } from 'node:path'
import {
  describeFrame,
  type FrameContext,
  type FrameFacts,
  type HeaderLike,
  type RigContext,
} from '../../frame/describe.ts'
import type { RigSpan } from '../../../db/tables/rigs.ts'

/** What describing depends on besides the file: plain values, so that a thread can be given them. */
export interface DescribeContext {
  frame: FrameContext
  spans: RigSpan[]
}

/** What describing needs of a file besides its header. */
export interface DescribedFile {
  path: string
  /** The folder that was watched or given to `log`. */
  root: string | null
  mtimeMs: number
  width: number | null
  height: number | null
}

export type Describer = (header: HeaderLike, file: DescribedFile) => FrameFacts

/** Describes frames in this context; touches no database. */
export function describerOf({ frame, spans }: DescribeContext): Describer {
  return (header, file) => {
    const only = onlyRigOf(spans, file.path)
    if (only !== undefined) return describeFrame(header, file, only ? { ...frame, rig: only } : frame)
    const facts = describeFrame(header, file, frame)
    const rig = rigOf(spans, facts)
    return rig ? describeFrame(header, file, { ...frame, rig }) : facts
  }
}

/** The rig of every frame in this folder, whatever was before it and when; undefined where camera or date decide. */
function onlyRigOf(spans: readonly RigSpan[], path: string): RigContext | null | undefined {
  const fits = spans.filter((span) => span.folder !== null && isBelow(path, span.folder))
  if (fits.length === 0) return null
  const innermost = Math.max(...fits.map((span) => span.folder!.length))
  const own = fits.filter((span) => span.folder!.length === innermost)
  return own.length === 1 && own[0].camera === null ? contextOf(own[0]) : undefined
}

/** The rig that writes into this frame's folder (the innermost), as it stood when the frame was taken. */
export function rigOf(
  spans: readonly RigSpan[],
  facts: Pick<FrameFacts, 'path' | 'camera' | 'startedAt'>,
): RigContext | null {
  const fits = spans.filter(
    (span) =>
      span.folder !== null &&
      isBelow(facts.path, span.folder) &&
      (span.camera === null || span.camera.toUpperCase() === facts.camera?.toUpperCase()),
  )
  const innermost = Math.max(...fits.map((span) => span.folder!.length))
  const own = fits.filter((span) => span.folder!.length === innermost).sort((a, b) => (a.since < b.since ? -1 : 1))
  // A frame from before the first span, or without a date, belongs to the rig all the same: as it was first described.
  const span = own.filter((s) => facts.startedAt !== null && s.since <= facts.startedAt).at(-1) ?? own[0]
  return span ? contextOf(span) : null
}

function contextOf(span: RigSpan): RigContext {
  const { siteLatDeg: latDeg, siteLongDeg: longDeg } = span
  return {
    name: span.rig,
    train: span.train,
    filter: span.filter,
    body: span.body,
    camera: span.camera,
    site: latDeg !== null && longDeg !== null ? { latDeg, longDeg } : null,
  }
}

/** True for a path inside a folder. */
export const isBelow = (path: string, folder: string): boolean =>
  path.startsWith(folder.endsWith(sep) ? folder : folder + sep)
