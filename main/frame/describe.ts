import type { FrameContext, FrameFacts, FrameFile, HeaderLike } from './facts.ts'

export type { CardLike, FrameContext, FrameFacts, FrameFile, HeaderLike, RigContext } from './facts.ts'

export declare function describeFrame(header: HeaderLike, file: FrameFile, context: FrameContext): FrameFacts
