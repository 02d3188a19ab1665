import { checkCopy, type CheckCopy, type Rows } from '../../../db/backup.ts'
import { createCrew } from '../../measure/crew.ts'

export interface CheckAsk {
  file: string
  least: Rows
}

/**
 * Checks a copy in a thread of its own: reading a million frames takes seconds, in which no frame would be logged.
 * Run from its source (under test) it checks in place, since a thread finds the migrations only in the build.
 */
export const checkInThread: CheckCopy = async (file, least) => {
  if (import.meta.url.endsWith('.ts')) return checkCopy(file, least)
  const crew = createCrew<CheckAsk, null>(new URL('./check-worker.js', import.meta.url), 1)
  try {
    await crew.ask({ file, least })
  } finally {
    await crew.close()
  }
}
