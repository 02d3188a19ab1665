import { UsageError } from './verb.ts'

/**
 * A moment as a person types it: `2026-11-20T22:15`, by this machine's clock where no zone is written.
 * @returns UTC, ISO 8601; undefined where nothing was typed
 */
export function readMoment(option: string, text: string | undefined): string | undefined {
  if (text === undefined) return undefined
  const at = new Date(text.trim().replace(' ', 'T'))
  if (!/^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}/.test(text.trim()) || Number.isNaN(at.getTime()))
    throw new UsageError(`${option} takes a moment like 2026-11-20T22:15, not "${text}".`)
  return at.toISOString()
}

/** 20 November 2026, 22:15: by this machine's clock. */
export const momentInWords = (at: string): string =>
  new Date(at).toLocaleString('en-GB', {
    day: 'numeric',
    month: 'long',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
    hourCycle: 'h23',
  })
