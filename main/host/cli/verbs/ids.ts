import { UsageError } from '../verb.ts'

/** A master's number as an option gives it. */
export function readId(option: string, value: unknown): number | undefined {
  if (value === undefined) return undefined
  if (!/^[1-9]\d{0,14}$/.test(String(value)))
    throw new UsageError(`${option} takes the number of a master, as "library" shows it, not "${String(value)}".`)
  return Number(value)
}
