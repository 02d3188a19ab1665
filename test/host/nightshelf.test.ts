import { chmodSync, copyFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { newestSource } from '../../main/host/sources.mjs'
import { Running } from './support/process.ts'

let root: string
/** A checkout of nothing but the entry, whose command line says what it was given. */
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'nightshelf-entry-'))
  for (const folder of ['main/host', 'renderer', 'db', 'out/main']) mkdirSync(join(root, folder), { recursive: true })
  for (const name of ['nightshelf.mjs', 'sources.mjs', 'npm-shell.mjs'])
    copyFileSync(new URL(`../../main/host/${name}`, import.meta.url), join(root, 'main', 'host', name))
  writeFileSync(join(root, 'out/main/cli.js'), 'console.log("runs", ...process.argv.slice(2)); process.exitCode = 7')
  writeFileSync(join(root, 'out/main/package.json'), '{"type":"module"}')
})
afterEach(() => rmSync(root, { recursive: true }))

const stamp = () => writeFileSync(join(root, 'out/stamp.json'), JSON.stringify(newestSource(root)))

async function nightshelf(claimedVersion = process.versions.node) {
  const claim = `data:text/javascript,Object.defineProperty(process.versions,'node',{value:'${claimedVersion}'})`
  const args = ['--import', claim, join(root, 'main/host/nightshelf.mjs'), 'status', '--json']
  const running = new Running(process.execPath, args)
  const code = await running.ended
  return { code, stdout: running.stdout, stderr: running.stderr }
}

describe('the entry of the command line', () => {
  test('hands everything to the build, and its exit code back', async () => {
    stamp()
    expect(await nightshelf()).toEqual({ code: 7, stdout: 'runs status --json\n', stderr: '' })
  })

  test('refuses a missing and a stale build in one sentence each', async () => {
    const missing = await nightshelf()
    expect(missing).toMatchObject({ code: 1, stdout: '' })
    expect(missing.stderr).toMatch(/^nightshelf: Nightshelf is not built yet[^\n]*npm run build[^\n]*\.\n$/)
    stamp()
    writeFileSync(join(root, 'db/new.sql'), '')
    const stale = await nightshelf()
    expect(stale).toMatchObject({ code: 1, stdout: '' })
    expect(stale.stderr).toMatch(/^nightshelf: The sources are newer than the build[^\n]*npm run build[^\n]*\.\n$/)
  })

  test('on a Node that is too old, says in one sentence which one is needed', async () => {
    stamp()
    const { code, stdout, stderr } = await nightshelf('20.20.2')
    expect([code, stdout]).toEqual([1, ''])
    expect(stderr).toMatch(/^nightshelf: Node 22\.22 or newer is needed and this is 20\.20\.2[^\n]*\.\n$/)
  })

  test.skipIf(process.platform === 'win32')('on a Node that is too old, runs again on the project’s own', async () => {
    stamp()
    const bin = join(root, 'node_modules/node/bin')
    mkdirSync(bin, { recursive: true })
    writeFileSync(join(bin, 'node'), `#!/bin/sh\nexec "${process.execPath}" "$@"\n`)
    chmodSync(join(bin, 'node'), 0o755)
    expect(await nightshelf('20.20.2')).toEqual({ code: 7, stdout: 'runs status --json\n', stderr: '' })
  })
})
