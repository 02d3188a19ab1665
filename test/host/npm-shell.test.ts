import { readFileSync } from 'node:fs'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { makeFolders } from './support/headless.ts'
import { Running } from './support/process.ts'

let folders: ReturnType<typeof makeFolders>
beforeEach(() => void (folders = makeFolders()))
afterEach(() => folders.remove())

/** Runs a Node script below a shell that does not pass signals on, as `npm run` does. */
function below(env: Record<string, string>): Running {
  const script = `import { endWithNpmShell } from ${JSON.stringify(new URL('../../main/host/npm-shell.mjs', import.meta.url))}
    import { writeFileSync } from 'node:fs'
    endWithNpmShell()
    process.on('SIGTERM', () => { writeFileSync('${folders.data}/told', 'SIGTERM'); process.exit() })
    setTimeout(() => {}, 3000)
    console.log('up')`
  const command = `"${process.execPath}" --input-type=module -e "$SCRIPT"; true`
  return new Running('/bin/sh', ['-c', command], {
    env: { PATH: process.env.PATH, ...env, SCRIPT: script } as NodeJS.ProcessEnv,
  })
}

describe.skipIf(process.platform === 'win32')('below the shell of npm run', () => {
  const told = () => {
    try {
      return readFileSync(`${folders.data}/told`, 'utf8')
    } catch {
      return null
    }
  }

  test('the end of the shell counts as SIGTERM', async () => {
    const shell = below({ npm_lifecycle_event: 'nightshelf' })
    await shell.printed(/up/)
    shell.child.kill('SIGTERM')
    await expect.poll(told, { timeout: 10_000 }).toBe('SIGTERM')
  })

  test('without npm the program outlives its shell', async () => {
    const shell = below({})
    await shell.printed(/up/)
    await shell.stop('SIGTERM')
    expect(told()).toBeNull()
  })
})
