#!/usr/bin/env node
// The command line's entry. It must be readable by any Node, because its first task is to say which one is needed.
import { spawn } from 'node:child_process'
import { existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { endWithNpmShell } from './npm-shell.mjs'

const LEAST = [22, 22]
const [major, minor] = process.versions.node.split('.').map(Number)
const isOldNode = major < LEAST[0] || (major === LEAST[0] && minor < LEAST[1])

endWithNpmShell()
if (isOldNode) runOnOwnNode()
else {
  const { whyNotRunnable } = await import('./sources.mjs')
  const why = whyNotRunnable(fileURLToPath(new URL('../../', import.meta.url)))
  if (why) complain(why)
  else {
    // Compiled once for all calls: a command takes a fifth less. Older versions of Node lack it.
    const { enableCompileCache } = await import('node:module')
    enableCompileCache?.()
    await import('../../out/main/cli.js')
  }
}

/** Starts this script again on the Node that `npm ci` brings; the database binding crashes an older one. */
function runOnOwnNode() {
  const name = process.platform === 'win32' ? 'node.exe' : 'node'
  const ownNode = fileURLToPath(new URL(`../../node_modules/node/bin/${name}`, import.meta.url))
  if (!existsSync(ownNode))
    return complain(
      `Node ${LEAST.join('.')} or newer is needed and this is ${process.versions.node}: run "npm ci" in the Nightshelf folder, which brings one, or install a newer Node.`,
    )
  const child = spawn(ownNode, process.argv.slice(1), { stdio: 'inherit' })
  // Sent again by whoever stops the outer process; on Ctrl-C the terminal tells both.
  for (const signal of ['SIGTERM', 'SIGHUP']) process.on(signal, () => child.kill(signal))
  process.on('SIGINT', () => {})
  child.on('exit', (code, signal) => (process.exitCode = signal ? 1 : code))
}

function complain(sentence) {
  process.stderr.write(`nightshelf: ${sentence}\n`)
  process.exitCode = 1
}
