import { defineConfig } from 'electron-vite'
import { svelte } from '@sveltejs/vite-plugin-svelte'
import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { licences } from './main/host/electron/package/licences.ts'
import { hostRequests, requests } from './main/contract/index.ts'

const here = (file: string) => resolve(import.meta.dirname, file)

/** One build for both hosts, the command line and the pixel workers: each entry is a file of its own in out/main. */
const entries = {
  electron: 'main/host/electron/main.ts',
  cli: 'main/host/cli/main.ts',
  engine: 'main/host/engine-process.ts',
  'check-worker': 'main/engine/data-folder/check-worker.ts',
  'reader-worker': 'main/engine/ingest/reader-worker.ts',
  'disk-worker': 'main/watch/disk-worker.ts',
  'measure-worker': 'main/measure/worker.ts',
  'integrate-worker': 'main/integrate/worker.ts',
  'inspect-worker': 'main/inspect/worker.ts',
}

const present = Object.fromEntries(
  Object.entries(entries)
    .map(([name, file]) => [name, here(file)])
    .filter(([, file]) => existsSync(file)),
)

/** What a page may ask: one verb each on the preload's bridge. */
const pageRequests = Object.keys(requests).filter((name) => !Object.hasOwn(hostRequests, name))

/** A machine busy with other things is no reason for the build to complain. */
const checks = { bundlerTimings: false }

export default defineConfig({
  main: {
    plugins: [licences()],
    // Its build for Node declares a `require` of its own, which clashes with the one that this build puts in.
    resolve: { alias: { fflate: here('node_modules/fflate/esm/browser.js') } },
    build: {
      outDir: 'out/main',
      // The oldest Node that may run it; "using", for one, is newer.
      target: 'node22.22',
      // Only what cannot be bundled stays outside: a native module and the runtime itself.
      externalizeDeps: { include: ['better-sqlite3'], exclude: [] },
      rolldownOptions: {
        checks,
        input: present,
        external: ['better-sqlite3', 'electron', 'fsevents'],
        output: { format: 'es', entryFileNames: '[name].js', chunkFileNames: '[name]-[hash].js' },
      },
    },
  },
  preload: {
    plugins: [licences()],
    define: { PAGE_REQUESTS: JSON.stringify(pageRequests) },
    build: {
      outDir: 'out/preload',
      externalizeDeps: false,
      rolldownOptions: {
        checks,
        input: { preload: here('main/host/electron/preload.ts') },
        external: ['electron'],
        output: { format: 'cjs', entryFileNames: '[name].cjs' },
      },
    },
  },
  renderer: {
    root: here('renderer'),
    plugins: [svelte(), licences([here('node_modules/@fontsource-variable/atkinson-hyperlegible-next')])],
    build: {
      outDir: here('out/renderer'),
      assetsInlineLimit: 0,
      rolldownOptions: { checks, input: { index: here('renderer/index.html') } },
    },
  },
})
