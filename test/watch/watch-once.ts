/** Watches a folder for three seconds and prints what was told, for tests that look at the process from outside. */
import { accessSync, constants } from 'node:fs'
import { watchFolders } from '../../main/watch/watch.ts'

const [folder] = process.argv.slice(2)
const counts: Record<string, number | boolean> = { complete: 0, broken: 0, problem: 0 }
const watcher = watchFolders({
  folders: [folder],
  on: ({ event }) => void (counts[event] = Number(counts[event] ?? 0) + 1),
})
await watcher.ready
await new Promise((resolve) => setTimeout(resolve, 3000))
await watcher.close()
try {
  accessSync(folder, constants.W_OK)
  counts.writable = true
} catch {
  counts.writable = false
}
process.stdout.write(JSON.stringify(counts))
