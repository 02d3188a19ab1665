import { constants } from 'node:fs'
import { access } from 'node:fs/promises'
import { dirname } from 'node:path'

/** Looked for again after this, and never for more than a twentieth of the time. */
const AGAIN_MS = 30_000
const SHARE = 20

/**
 * Files that were looked for in vain, by the highest folder that is away with them: nobody watches them, or the watcher has not
 * told of it yet. They are looked for again until they are back.
 */
export class Missing {
  /** Something is back. */
  onBack: () => void = () => {}
  readonly #againMs: number
  readonly #away = new Set<string>()
  #timer: NodeJS.Timeout | null = null
  #looking: Promise<void> | null = null
  #closed = false

  constructor(againMs = AGAIN_MS) {
    this.#againMs = againMs
  }

  /** True for a path that is away, alone or with a folder above it, as far as is known. */
  has(path: string): boolean {
    if (this.#away.size === 0) return false
    for (let at = path; ;) {
      if (this.#away.has(at)) return true
      const above = dirname(at)
      if (above === at) return false
      at = above
    }
  }

  /** Looks for this file. @returns false where it is there and may be read */
  async note(path: string): Promise<boolean> {
    if (await isReadable(path)) return false
    let away = path
    for (;;) {
      const above = dirname(away)
      if (above === away || (await isReadable(above))) break
      away = above
    }
    if (this.#closed) return true
    this.#away.add(away)
    if (!this.#looking) this.#timer ??= this.#soon(this.#againMs)
    return true
  }

  /** This file stands there, and so does every folder above it. */
  found(path: string): void {
    if (this.#away.size === 0) return
    for (let at = path; ;) {
      this.#away.delete(at)
      const above = dirname(at)
      if (above === at) return
      at = above
    }
  }

  /** A folder may be back: looks at once. */
  lookNow(): void {
    if (this.#away.size === 0 || this.#closed || !this.#timer) return
    clearTimeout(this.#timer)
    this.#timer = null
    this.#looking = this.#lookAgain()
  }

  async close(): Promise<void> {
    this.#closed = true
    if (this.#timer) clearTimeout(this.#timer)
    await this.#looking
  }

  #soon(ms: number): NodeJS.Timeout {
    return setTimeout(() => {
      this.#timer = null
      this.#looking = this.#lookAgain()
    }, ms).unref()
  }

  /** One after another: a disk that does not answer holds up no more than one of them. */
  async #lookAgain(): Promise<void> {
    const fromMs = performance.now()
    let isBack = false
    for (const path of this.#away) {
      if (this.#closed) return
      if (!(await isReadable(path))) continue
      this.#away.delete(path)
      isBack = true
    }
    const tookMs = performance.now() - fromMs
    this.#looking = null
    if (this.#away.size > 0) this.#timer = this.#soon(Math.max(this.#againMs, tookMs * SHARE))
    if (isBack) this.onBack()
  }
}

const isReadable = (path: string): Promise<boolean> =>
  access(path, constants.R_OK).then(
    () => true,
    () => false,
  )
