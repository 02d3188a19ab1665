import { createHash } from 'node:crypto'
import { mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs'
import { dirname } from 'node:path'
import { z } from 'zod'

/** A session that was not used for so long is forgotten. */
const IDLE_MS = 60 * 24 * 3_600_000
/** How many browsers are remembered; the one unused for longest makes room. */
const MOST = 50

const fileSchema = z.array(z.object({ hash: z.string().regex(/^[0-9a-f]{64}$/), usedAtMs: z.number() }))

const hashOf = (session: string): string => createHash('sha256').update(session).digest('hex')

/**
 * The browsers that were let in, so that a page open on a laptop finds its way back by itself after the machine at the
 * telescope was started anew. Only hashes are kept: who reads the file cannot come in with it.
 */
export class SessionStore {
  readonly #path: string
  readonly #now: () => number
  readonly #usedAtMs = new Map<string, number>()

  constructor(path: string, now: () => number = Date.now) {
    this.#path = path
    this.#now = now
    for (const { hash, usedAtMs } of this.#read()) if (now() - usedAtMs < IDLE_MS) this.#usedAtMs.set(hash, usedAtMs)
  }

  has(session: string): boolean {
    const hash = hashOf(session)
    const usedAtMs = this.#usedAtMs.get(hash)
    if (usedAtMs === undefined || this.#now() - usedAtMs >= IDLE_MS) return false
    this.#usedAtMs.set(hash, this.#now())
    // Once a day is enough to know which are in use.
    if (this.#now() - usedAtMs > 24 * 3_600_000) this.#write()
    return true
  }

  add(session: string): void {
    this.#usedAtMs.set(hashOf(session), this.#now())
    const eldestFirst = [...this.#usedAtMs].sort((a, b) => a[1] - b[1])
    for (const [hash] of eldestFirst.slice(0, -MOST)) this.#usedAtMs.delete(hash)
    this.#write()
  }

  /** A file that is missing or was damaged only means that every browser has to be let in once more. */
  #read(): z.infer<typeof fileSchema> {
    try {
      return fileSchema.parse(JSON.parse(readFileSync(this.#path, 'utf8')))
    } catch {
      return []
    }
  }

  /** Disk full or read-only: the sessions still hold for as long as this host runs. */
  #write(): void {
    const rows = [...this.#usedAtMs].map(([hash, usedAtMs]) => ({ hash, usedAtMs }))
    try {
      mkdirSync(dirname(this.#path), { recursive: true })
      writeFileSync(`${this.#path}.new`, JSON.stringify(rows), { mode: 0o600 })
      renameSync(`${this.#path}.new`, this.#path)
    } catch {
      return
    }
  }
}
