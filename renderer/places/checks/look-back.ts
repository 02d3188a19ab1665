import type { Run } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'

/** More nights back than this, a frame is no fresh one. */
const NIGHTS = 6

/** Hands over the runs of the last nights, night by night from the newest. */
export async function lookBack(client: Client, take: (runs: readonly Run[]) => void): Promise<void> {
  const { nights } = await client.ask('nights', {})
  const newest = nights.toSorted((a, b) => b.night.localeCompare(a.night)).slice(0, NIGHTS)
  for (const { night } of newest) take((await client.ask('tonight', { night })).runs)
}
