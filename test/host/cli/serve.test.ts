import { existsSync, readFileSync } from 'node:fs'
import { createServer, type AddressInfo } from 'node:net'
import { fileURLToPath } from 'node:url'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { makeFolders, Page, tokenOf } from '../support/headless.ts'
import { Running } from '../support/process.ts'

const script = fileURLToPath(new URL('../support/serve-fake.mjs', import.meta.url))
let folders: ReturnType<typeof makeFolders>
const running: Running[] = []
beforeEach(() => void (folders = makeFolders()))
afterEach(async () => {
  for (const process of running.splice(0)) await process.stop('SIGKILL')
  folders.remove()
})

function serve(...args: string[]): Running {
  const process_ = new Running(process.execPath, [script, folders.page, folders.data, ...args])
  running.push(process_)
  return process_
}

describe('serve', () => {
  test('prints its address alone on a line, and a page can come in with it', async () => {
    const address = await serve('--port', '0').address()
    const { first } = await Page.greet(new URL(address).origin, { token: tokenOf(address) })
    expect(first).toHaveProperty('welcome')
  })

  test('prints a fresh address once one was used', async () => {
    const host = serve('--port', '0')
    const address = await host.address()
    await Page.greet(new URL(address).origin, { token: tokenOf(address) })
    await host.printed(/another browser/)
    const addresses = host.stdout.match(/^http.*#t=.*$/gm)!
    expect(new Set(addresses).size).toBe(2)
    const { first } = await Page.greet(new URL(address).origin, { token: tokenOf(addresses[1]) })
    expect(first).toHaveProperty('welcome')
  })

  test.each(['SIGTERM', 'SIGINT'] as const)(
    'ends cleanly on %s with a page open, its database closed',
    async (signal) => {
      const host = serve('--port', '0')
      const address = await host.address()
      const { page } = await Page.greet(new URL(address).origin, { token: tokenOf(address) })
      expect(await host.stop(signal)).toBe(0)
      expect(await page.closed).toBe(1001)
      expect(readFileSync(`${folders.data}/engine.log`, 'utf8')).toBe('closed\n')
    },
  )

  test('takes no engine with it to the grave: killed outright, its engine ends by itself', async () => {
    const host = serve('--port', '0')
    const address = await host.address()
    const { page } = await Page.greet(new URL(address).origin, { token: tokenOf(address) })
    const reply = (await page.ask('nights')) as { answer: { nights: { frames: number }[] } }
    const enginePid = reply.answer.nights[0].frames
    await host.stop('SIGKILL')
    await expect.poll(() => alive(enginePid), { timeout: 10_000 }).toBe(false)
  })

  test('says in one sentence that its port is taken', async () => {
    const other = createServer().listen(0, '127.0.0.1')
    await new Promise((resolve) => other.once('listening', resolve))
    const { port } = other.address() as AddressInfo
    const host = serve('--port', String(port))
    expect(await host.ended).toBe(1)
    expect(host.stderr).toMatch(new RegExp(`^nightshelf: Port ${port} is taken.*--port 0.*\\.\n$`))
    other.close()
  })

  test('says in one sentence why its database cannot be opened, and prints no address', async () => {
    folders.remove()
    folders = makeFolders('refuses')
    const host = serve('--port', '0')
    expect(await host.ended).toBe(1)
    expect(host.stderr).toBe('nightshelf: This database was written by a newer Nightshelf: install that one.\n')
    expect(host.stdout).toBe('')
  })

  test('watches the folders it is told to, and goes on without one that is missing', async () => {
    const host = serve('--port', '0', '--watch', '/frames', '--watch', '/missing')
    const address = await host.address()
    await host.printed(/There is no folder \/missing\./)
    const { page } = await Page.greet(new URL(address).origin, { token: tokenOf(address) })
    expect(await page.ask('folders')).toMatchObject({ answer: { folders: [{ path: '/frames' }] } })
  })

  test('looks every few seconds into the folders that it is told to poll', async () => {
    const host = serve('--port', '0', '--watch', '/frames', '--poll', '/far')
    const address = await host.address()
    const { page } = await Page.greet(new URL(address).origin, { token: tokenOf(address) })
    const folders = async () => ((await page.ask('folders')) as { answer: { folders: object[] } }).answer.folders
    await expect.poll(folders).toMatchObject([
      { path: '/frames', polling: false },
      { path: '/far', polling: true },
    ])
  })

  test('with --lan prints the pairing code, and says what that opens', async () => {
    const host = serve('--port', '0', '--lan')
    const [, code] = await host.printed(/^Pairing code for other machines: (\w{8})$/m)
    await host.printed(/only on a network you trust/)
    const { first } = await Page.greet(new URL(await host.address()).origin, { code })
    expect(first).toHaveProperty('welcome')
  })

  test.each([
    [['--port', 'x'], '--port takes a number'],
    [['--port', '70000'], '--port takes a number'],
    [['--origin', 'scope'], '--origin takes an address'],
    [['folder'], '--watch DIR'],
  ])('refuses %j', async (args, sentence) => {
    const host = serve(...args)
    expect(await host.ended).toBe(2)
    expect(host.stderr).toContain(sentence)
    expect(existsSync(`${folders.data}/engine.log`)).toBe(false)
  })
})

/** A dead process that nobody has collected yet (a container without an init) still has its number: it counts as dead. */
function alive(pid: number): boolean {
  try {
    process.kill(pid, 0)
    return process.platform !== 'linux' || !/^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'))
  } catch {
    return false
  }
}
