import { dirname } from 'node:path'
import { refuseToOverwrite } from '../../inspect/proof-file.ts'
import type { Core } from '../core.ts'
import { outPath, realPath } from '../files/out-path.ts'

/**
 * Where a proof may be written: over nothing but an earlier proof.
 * @param light the light's own path: its folder belongs to the camera even where it was never logged
 * @throws Refusal in one sentence
 */
export function proofPath(core: Core, out: string, light: string): string {
  const path = outPath(core, out, 'proof', [dirname(light), dirname(realPath(light) ?? light)])
  refuseToOverwrite(path)
  return path
}
