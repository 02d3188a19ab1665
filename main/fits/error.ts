import { Refusal } from '../contract/refusal.ts'

/**
 * What is wrong with a file, for programs; the sentence beside it is for people.
 * - `unreadable` the system refuses (missing, no permission, a folder, a pipe): `cause` holds its error
 * - `empty`, `blank` no bytes yet, or only zeros where the header should be
 * - `not-fits` something else under a FITS name
 * - `header-cut` no END card before the file (or any sane header) ends
 * - `header-bad` a header that contradicts itself or lacks a mandatory card
 * - `size-impossible` dimensions that no file could hold
 * - `data-cut` fewer data than the header promises
 * - `no-image` a FITS file without an image
 * - `compression` a tile compression that is not read here; the sentence names it
 * - `tile-bad` a compressed tile that does not decode to its pixels
 */
export type FitsErrorCode =
  | 'unreadable'
  | 'empty'
  | 'blank'
  | 'not-fits'
  | 'header-cut'
  | 'header-bad'
  | 'size-impossible'
  | 'data-cut'
  | 'no-image'
  | 'compression'
  | 'tile-bad'

/** The only error that reading a file throws, whatever the file: a code and one sentence that says what to do. */
export class FitsError extends Refusal {
  override name = 'FitsError'
  readonly code: FitsErrorCode

  constructor(code: FitsErrorCode, sentence: string, options?: ErrorOptions) {
    super(sentence, options)
    this.code = code
  }
}

const SYSTEM_SENTENCES: Record<string, string> = {
  ENOENT: 'This file is not there any more: look whether it was moved or deleted.',
  EACCES: 'This file may not be read: give your account the right to read it.',
  EPERM: 'This file may not be read: give your account the right to read it.',
  EISDIR: 'This is a folder with the name of a FITS file: rename it, or look inside it for the frames.',
  ELOOP: 'This link leads back to itself: remove it, or point it at a real file.',
  ENOTDIR: 'A part of this path is a file, not a folder: check the path.',
  EMFILE: 'Too many files are open at once: close other programs and try again.',
  EIO: 'The disk fails to read this file: copy it again from the camera computer, and check the disk.',
}

/** A system error as a FitsError; anything else (a fault of ours) comes back as it is. */
export function asFitsError(error: unknown): unknown {
  if (error instanceof FitsError) return error
  const code = (error as NodeJS.ErrnoException)?.code
  if (typeof code !== 'string' || !(error as NodeJS.ErrnoException).syscall) return error
  const sentence =
    SYSTEM_SENTENCES[code] ?? `This file cannot be read (${code}): check the disk or the connection to it.`
  return new FitsError('unreadable', sentence, { cause: error })
}
