/**
 * A thread's own file: `NAME-worker.js` beside the built program, `worker.ts` beside its caller when run from sources.
 * @param from the caller's import.meta.url
 */
export function threadScript(from: string, name: 'measure' | 'integrate' | 'inspect'): URL {
  return new URL(from.endsWith('.ts') ? './worker.ts' : `./${name}-worker.js`, from)
}
