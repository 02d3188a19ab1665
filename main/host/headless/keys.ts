import { createHash, randomBytes, randomInt, timingSafeEqual } from 'node:crypto'
import type { Hello } from '../../contract/index.ts'
import type { SessionStore } from './sessions.ts'

/** Letters and digits that cannot be mistaken for one another when read aloud or copied by hand. */
const CODE_LETTERS = 'ABCDEFGHJKMNPQRSTVWXYZ23456789'
const CODE_LENGTH = 8
/** After so many wrong codes a new one is made, so that guessing never gets anywhere. */
const WRONG_CODES = 10

/** 256 bits, in letters that need no escaping in an address. */
export const newKey = (): string => randomBytes(32).toString('base64url')

const newCode = (): string =>
  Array.from({ length: CODE_LENGTH }, () => CODE_LETTERS[randomInt(CODE_LETTERS.length)]).join('')

/** Compares in the same time whatever is wrong, and whatever the lengths. */
function same(a: string, b: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest()
  return timingSafeEqual(digest(a), digest(b))
}

export interface KeysOptions {
  sessions: SessionStore
  /** Whether another machine may pair with a code. */
  pairing: boolean
  /** A token was used up, or a code guessed at too often: the new one should be shown. */
  renewed: (what: 'token' | 'code') => void
}

/** Who may come in: with the token of the printed address (once), with the pairing code, or with a session from before. */
export class Keys {
  token = newKey()
  code: string | null
  readonly #options: KeysOptions
  #wrongCodes = 0

  constructor(options: KeysOptions) {
    this.#options = options
    this.code = options.pairing ? newCode() : null
  }

  /** @returns the session to go on with, or null if this key opens nothing */
  admit({ hello }: Hello): string | null {
    if ('session' in hello) return this.#options.sessions.has(hello.session) ? hello.session : null
    if ('token' in hello) return this.#admitToken(hello.token)
    return this.#admitCode(hello.code)
  }

  #admitToken(token: string): string | null {
    if (!same(token, this.token)) return null
    this.token = newKey()
    const session = this.#newSession()
    this.#options.renewed('token')
    return session
  }

  #admitCode(typed: string): string | null {
    if (this.code === null) return null
    const code = typed.toUpperCase().replaceAll(/[^A-Z0-9]/g, '')
    if (same(code, this.code)) return this.#newSession()
    if (++this.#wrongCodes >= WRONG_CODES) {
      this.#wrongCodes = 0
      this.code = newCode()
      this.#options.renewed('code')
    }
    return null
  }

  #newSession(): string {
    const session = newKey()
    this.#options.sessions.add(session)
    return session
  }
}
