import { defineConfig } from 'vitest/config'
import { svelte } from '@sveltejs/vite-plugin-svelte'

/** Threads started from sources: test/threads/stripped.mjs says why. */
const strippedThreads = {
  globalSetup: './test/threads/strip.mjs',
  execArgv: ['--import', new URL('./test/threads/load.mjs', import.meta.url).href],
}

export default defineConfig({
  plugins: [svelte()],
  test: {
    projects: [
      {
        extends: true,
        test: {
          name: 'unit',
          include: ['test/**/*.test.ts'],
          exclude: ['test/e2e/**', 'test/reference/**'],
          testTimeout: 20_000,
          ...strippedThreads,
        },
      },
      {
        extends: true,
        test: {
          name: 'e2e',
          include: ['test/e2e/**/*.test.ts'],
          testTimeout: 60_000,
          hookTimeout: 60_000,
          globalSetup: './test/e2e/support/shared.ts',
          // One after another in one process: what they share is read once.
          isolate: false,
          fileParallelism: false,
        },
      },
      {
        extends: true,
        test: {
          name: 'reference',
          include: ['test/reference/**/*.test.ts'],
          testTimeout: 120_000,
          ...strippedThreads,
          fileParallelism: false,
        },
      },
    ],
  },
})
