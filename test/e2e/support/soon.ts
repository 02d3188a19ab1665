import { expect } from 'vitest'

/** `expect.poll` with the patience that a busy machine needs; what is waited for takes far less. */
export const soon = <T>(look: () => T | Promise<T>) => expect.poll(look, { timeout: 20_000 })
