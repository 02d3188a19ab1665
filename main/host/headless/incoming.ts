import { createWriteStream } from 'node:fs'
import type { IncomingMessage } from 'node:http'
import { statfs } from 'node:fs/promises'
import { basename } from 'node:path'
import { Transform } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { dropIncoming, newIncoming, sweepIncoming } from '../../engine/library/incoming.ts'
import { isFitsName } from '../../watch/names.ts'

/** The largest sensors make masters of about 600 MB as float64. */
const MOST_BYTES = 2 * 1024 ** 3
/** All that waits to be added together. */
const MOST_WAITING_BYTES = 8 * 1024 ** 3
/** What must stay free on the disk of the data folder: the log comes first. */
const ROOM_BYTES = 512 * 1024 ** 2
const MOST_AT_ONCE = 3

export interface IncomingLimits {
  file: number
  waiting: number
}
export type IncomingAnswer = { status: 200; incoming: string } | { status: number; refused: string }

const refuse = (status: number, refused: string): IncomingAnswer => ({ status, refused })

/**
 * Takes the bytes of one file that a page sends into a folder of its own below the data folder, never into a capture folder. Nothing is done
 * with them until the page asks to add them by the name that it is given here.
 */
export class IncomingFiles {
  readonly #dataDir: string
  readonly #limits: IncomingLimits
  #running = 0

  constructor(dataDir: string, limits: Partial<IncomingLimits> = {}) {
    this.#dataDir = dataDir
    this.#limits = { file: MOST_BYTES, waiting: MOST_WAITING_BYTES, ...limits }
  }

  /** @param name the file's own, as the page has it */
  async take(request: IncomingMessage, name: string): Promise<IncomingAnswer> {
    const refusal = await this.#whyNot(request, name)
    if (refusal) return refusal
    const { incoming, path } = newIncoming(this.#dataDir, name)
    this.#running++
    try {
      await pipeline(
        request,
        atMost(Number(request.headers['content-length'])),
        createWriteStream(path, { flags: 'wx' }),
      )
      return { status: 200, incoming }
    } catch (error) {
      dropIncoming(this.#dataDir, incoming)
      const { code } = error as NodeJS.ErrnoException
      if (code === 'ENOSPC') return refuse(507, FULL)
      if (code === 'ENAMETOOLONG') return refuse(400, BAD_NAME)
      return refuse(400, 'The file did not arrive whole: send it once more.')
    } finally {
      this.#running--
    }
  }

  async #whyNot({ headers }: IncomingMessage, name: string): Promise<IncomingAnswer | null> {
    const length = Number(headers['content-length'])
    if (!isPlainName(name)) return refuse(400, BAD_NAME)
    if (!isFitsName(name))
      return refuse(415, 'By its name this is no FITS file: masters end in .fits, .fit, .fts or .fz.')
    if (!Number.isSafeInteger(length) || length <= 0) return refuse(411, 'This file is empty: choose another one.')
    if (length > this.#limits.file)
      return refuse(413, 'This file is too large to be sent: add it by its path on the machine that logs.')
    if (this.#running >= MOST_AT_ONCE) return refuse(429, 'Other files are being sent: wait until they are there.')
    if (sweepIncoming(this.#dataDir, Date.now()) + length > this.#limits.waiting)
      return refuse(507, 'Too many files wait to be added: add or leave out those first.')
    const { bavail, bsize } = await statfs(this.#dataDir)
    return bavail * bsize < length + ROOM_BYTES ? refuse(507, FULL) : null
  }
}

const FULL = 'The disk of the data folder is full: make room and try again.'
const BAD_NAME = 'This file has a name that cannot be kept: give it a plain one and send it again.'

// Control characters end names early or hide what they are.
const isPlainName = (name: string) =>
  name.length <= 200 && name === basename(name) && !/[\\/:*?"<>|\u0000-\u001f]|^\./.test(name)

/** Passes so many bytes on; more or fewer are an error. */
function atMost(bytes: number): Transform {
  let seen = 0
  return new Transform({
    transform(chunk: Buffer, _encoding, next) {
      seen += chunk.length
      next(seen > bytes ? new Error('more than announced') : null, chunk)
    },
    flush: (next) => next(seen === bytes ? null : new Error('less than announced')),
  })
}
