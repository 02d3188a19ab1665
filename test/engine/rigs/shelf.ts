import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Need, Run, VerdictWord } from '../../../main/contract/index.ts'
import type { Engine } from '../../../main/engine/open.ts'
import { freshFolder, writeFrame, type FrameSpec } from '../night-files.ts'

/** An empty capture folder of this name. */
export function captureFolder(name: string): string {
  const folder = join(freshFolder(), name)
  mkdirSync(folder)
  return folder
}

/** Takes a master of these settings into the library. @returns its id */
export async function addMaster(engine: Engine, kind: 'Dark' | 'Flat', spec: FrameSpec = {}): Promise<number> {
  const path = writeFrame(freshFolder(), `master-${kind.toLowerCase()}.fits`, {
    kind,
    startedAt: '2026-11-19T20:00:00',
    target: null,
    seed: 777 + Math.floor(Math.random() * 1e6),
    ...spec,
    more: [
      { keyword: 'NCOMBINE', value: 25 },
      { keyword: 'BUNIT', value: 'ADU' },
      { keyword: 'SUBTRACT', value: 'none' },
      ...(spec.more ?? []),
    ],
  })
  const { added, refused } = await engine.ask('addMasters', { paths: [path] })
  if (added.length !== 1) throw new Error(`not added: ${JSON.stringify(refused)}`)
  return added[0].id
}

export const lightRuns = async (engine: Engine): Promise<Run[]> =>
  (await engine.ask('tonight', {})).runs.filter((run) => run.kind === 'light')

/** The verdict of each run of lights, by what tells the runs apart. */
export async function verdictsBy(
  engine: Engine,
  field: 'rig' | 'filter' | 'target',
  need: Need,
): Promise<Record<string, VerdictWord | undefined>> {
  const runs = await lightRuns(engine)
  return Object.fromEntries(runs.map((run) => [String(run[field]), run.verdicts[need]?.verdict]))
}
