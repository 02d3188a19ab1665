import { describeFrame, type FrameContext, type FrameFacts, type FrameFile } from '../../main/frame/describe.ts'

export type Value = string | number | boolean | null | [value: string | number | boolean, comment: string]

export const file: FrameFile = {
  path: '/nights/rig/frame_0001.fits',
  root: '/nights/rig',
  mtimeMs: Date.parse('2026-11-21T03:00:00Z'),
  width: 4144,
  height: 2822,
}
export const context: FrameContext = { zone: 'UTC', rig: null }

/** Cards from a plain object; `[value, comment]` gives a comment. A keyword may be repeated as 'GAIN', 'GAIN ' and so on. */
export const header = (cards: Record<string, Value>) => ({
  cards: Object.entries(cards).map(([keyword, v]) => {
    const [value, comment] = Array.isArray(v) ? v : [v, '']
    return { keyword: keyword.trimEnd(), value, comment }
  }),
})

export const describeCards = (
  cards: Record<string, Value>,
  at: Partial<FrameFile> = {},
  more: Partial<FrameContext> = {},
): FrameFacts => describeFrame(header(cards), { ...file, ...at }, { ...context, ...more })
