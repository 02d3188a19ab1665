// npm run chaos -- NAME [options]: the long trials, which take minutes to hours and print one line each.
import { spawnSync } from 'node:child_process'
import { resolve } from 'node:path'

const root = resolve(import.meta.dirname, '../..')

/** A trial of our own exports `main(args)`; the others are vitest files whose number of runs an environment variable sets. */
const trials = {
  kill: async (args) => (await import('./kill.ts')).main(args),
  'kill-data': async (args) => (await import('./kill-data.ts')).main(args),
  darks: async (args) => (await import('./darks.ts')).main(args),
  flats: async (args) => (await import('./flats.ts')).main(args),
  soak: async (args) => (await import('./soak.ts')).main(args),
  missed: () => vitest('test/chaos/watch/missed.test.ts', { CHAOS_FILES: '40000', CHAOS_PACE: '1' }),
  vanish: (args) =>
    vitest('test/chaos/watch/vanish.test.ts', { CHAOS_VANISH: args[args.indexOf('--runs') + 1] ?? '5' }),
  writers: (args) =>
    vitest('test/chaos/watch/writers.test.ts', { CHAOS_WRITERS: args[args.indexOf('--runs') + 1] ?? '10000' }),
}

function vitest(file, env) {
  const script = resolve(root, 'node_modules/vitest/vitest.mjs')
  const run = spawnSync(process.execPath, [script, 'run', '--project', 'unit', file], {
    cwd: root,
    stdio: 'inherit',
    env: { ...process.env, ...env },
  })
  return run.status ?? 1
}

const [name, ...args] = process.argv.slice(2)
if (!Object.hasOwn(trials, name ?? '')) {
  console.error(`Say which trial: ${Object.keys(trials).join(', ')}. Options: --runs N, --seed S.`)
  process.exitCode = 2
} else process.exitCode = await trials[name](args)
