import { execFileSync } from 'node:child_process'
import {
  appendFileSync,
  chmodSync,
  mkdirSync,
  renameSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import type { WatchOptions } from '../../main/watch/watch.ts'
import { fitsBytes, freshFolder, watchByHand } from './files.ts'

const whole = fitsBytes()
let folder: ReturnType<typeof freshFolder>
let open: Awaited<ReturnType<typeof watchByHand>>[] = []
beforeEach(() => (folder = freshFolder()))
afterEach(async () => {
  for (const { watcher } of open) await watcher.close()
  open = []
  folder.remove()
})
const at = (name: string) => join(folder.path, name)
const watching = async (more: Partial<WatchOptions> = {}) => {
  const hand = await watchByHand(folder.path, more)
  open.push(hand)
  return hand
}

describe('what is there when the watch begins', () => {
  test('is told, in folders below too, with its header; what has no FITS name is not', async () => {
    mkdirSync(at('M31/Ha'), { recursive: true })
    for (const name of ['a.fits', 'b.FIT', 'M31/c.fts', 'M31/Ha/d.fits.fz', 'M31/notes.txt', 'e.fits.tmp'])
      writeFileSync(at(name), whole)
    const { told, events } = await watching()
    expect(told('complete').sort()).toEqual(['M31/Ha/d.fits.fz', 'M31/c.fts', 'a.fits', 'b.FIT'])
    expect(events.at(-1)).toMatchObject({ event: 'swept', files: 4, first: true })
    expect(events[0]).toMatchObject({ info: { image: { width: 40, height: 50 } }, again: false })
  })

  test('is not opened again if it is known as it is', async () => {
    writeFileSync(at('a.fits'), whole)
    const asked: string[] = []
    const { told } = await watching({ isKnown: (path) => (asked.push(path), true) })
    expect(told('complete')).toEqual([])
    expect(asked).toEqual([at('a.fits')])
  })

  test('a sweep waits for the one who is told', async () => {
    for (let i = 0; i < 20; i++) writeFileSync(at(`${i}.fits`), whole)
    let busy = 0
    let most = 0
    const on: WatchOptions['on'] = async (event) => {
      if (event.event !== 'complete') return
      most = Math.max(most, ++busy)
      await new Promise((resolve) => setTimeout(resolve, 1))
      busy--
    }
    await watching({ on })
    expect(most).toBe(1)
  })
})

describe('a frame that comes', () => {
  test('is told on its hint, at once', async () => {
    const { hint, told } = await watching()
    writeFileSync(at('a.fits'), whole)
    hint(at('a.fits'))
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('is told without any hint within 30 s', async () => {
    const { pass, told } = await watching()
    writeFileSync(at('a.fits'), whole)
    await pass(31_000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('in a new folder is told without any hint within 30 s', async () => {
    mkdirSync(at('old'))
    const { pass, told, listening } = await watching()
    mkdirSync(at('old/2026-11-20/Ha'), { recursive: true })
    writeFileSync(at('old/2026-11-20/Ha/a.fits'), whole)
    await pass(31_000)
    expect(told('complete')).toEqual(['old/2026-11-20/Ha/a.fits'])
    expect([...listening].map((path) => path.slice(folder.path.length))).toContain('/old/2026-11-20/Ha')
  })

  test('in a folder that came in the middle of a sweep is told once, and not taken for gone', async () => {
    const seen: string[] = []
    const on: WatchOptions['on'] = (event) => {
      if ('path' in event) seen.push(`${event.event} ${event.path.slice(folder.path.length + 1)}`)
      if (!('path' in event) || !event.path.endsWith('old/first.fits')) return
      // The sweep has listed the chosen folder by now, and will not see this one.
      mkdirSync(at('a-new'))
      writeFileSync(at('a-new/a.fits'), whole)
      hint(at('a-new'))
    }
    mkdirSync(at('old'))
    const { hint, watcher } = await watching({ on })
    writeFileSync(at('old/first.fits'), whole)
    await watcher.rescan()
    await watcher.settled()
    expect(seen).toEqual(['complete old/first.fits', 'complete a-new/a.fits'])
  })

  test('written slowly is told once, after its last byte', async () => {
    const { hint, pass, told } = await watching()
    for (let i = 0; i < whole.length; i += 700) {
      expect(told('complete')).toEqual([])
      appendFileSync(at('a.fits'), whole.subarray(i, i + 700))
      hint(at('a.fits'))
      await pass(100, 100)
    }
    await pass(5000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('that is renamed when it is whole is told under its name only', async () => {
    const { hint, pass, told } = await watching()
    writeFileSync(at('a.fits.part'), whole)
    hint(at('a.fits.part'))
    renameSync(at('a.fits.part'), at('a.fits'))
    hint(at('a.fits.part'))
    hint(at('a.fits'))
    await pass(60_000)
    expect(told('complete')).toEqual(['a.fits'])
    expect(told('gone')).toEqual([])
  })

  test('whose last hint is lost is found by looking again, within seconds', async () => {
    const { hint, pass, told } = await watching()
    writeFileSync(at('a.fits'), whole.subarray(0, 3000))
    hint(at('a.fits'))
    await pass(4000)
    appendFileSync(at('a.fits'), whole.subarray(3000))
    await pass(5000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('laid out in advance is not told before its end is written', async () => {
    const large = fitsBytes({ width: 400, height: 50 })
    const { hint, pass, told } = await watching()
    writeFileSync(at('a.fits'), Buffer.alloc(large.length))
    hint(at('a.fits'))
    await pass(2000)
    writeFileSync(at('a.fits'), Buffer.concat([large.subarray(0, 5000), Buffer.alloc(large.length - 5000)]), {
      flag: 'r+',
    })
    hint(at('a.fits'))
    await pass(60_000)
    expect(told('complete')).toEqual([])
    expect(told('incomplete')).toEqual(['a.fits'])
    writeFileSync(at('a.fits'), large, { flag: 'r+' })
    await pass(11_000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('that ends in real zeros is told after ten quiet minutes', async () => {
    const bytes = fitsBytes({ width: 400, height: 50 })
    bytes.fill(0, 2880 + 20_000)
    const { hint, pass, told } = await watching()
    writeFileSync(at('a.fits'), bytes)
    hint(at('a.fits'))
    await pass(590_000, 5000)
    expect(told('complete')).toEqual([])
    await pass(21_000, 5000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('without padding is told after two quiet seconds', async () => {
    const { hint, pass, told } = await watching()
    writeFileSync(at('a.fits'), whole.subarray(0, 2880 + 4000))
    hint(at('a.fits'))
    expect(told('complete')).toEqual([])
    await pass(4000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('that is written again in place is told again, once it is quiet', async () => {
    const { hint, pass, told, events } = await watching()
    writeFileSync(at('a.fits'), whole)
    hint(at('a.fits'))
    await pass(1000)
    writeFileSync(at('a.fits'), fitsBytes({ seed: 2 }))
    hint(at('a.fits'))
    await pass(1000)
    expect(told('complete')).toEqual(['a.fits'])
    await pass(5000)
    expect(events.filter((e) => e.event === 'complete').map((e) => e.again)).toEqual([false, true])
  })
})

describe('a frame that stays short', () => {
  test('is told as incomplete once, with how much is there, and as complete if the rest comes', async () => {
    const { hint, pass, told, events } = await watching()
    writeFileSync(at('a.fits'), whole.subarray(0, 2880 + 2000))
    hint(at('a.fits'))
    await pass(29_000)
    expect(told('incomplete')).toEqual([])
    await pass(60_000)
    expect(told('incomplete')).toEqual(['a.fits'])
    expect(events.find((e) => e.event === 'incomplete')).toMatchObject({ reason: expect.stringContaining('%') })
    writeFileSync(at('a.fits'), whole)
    await pass(31_000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('truncated while it was waited for is judged by what is there', async () => {
    const { hint, pass, told } = await watching()
    writeFileSync(at('a.fits'), whole.subarray(0, 6000))
    hint(at('a.fits'))
    truncateSync(at('a.fits'), 100)
    await pass(40_000)
    expect(told('complete')).toEqual([])
    expect(told('incomplete')).toEqual(['a.fits'])
  })
})

describe('what is no frame', () => {
  test('is told once with a reason, and told as complete if it becomes one', async () => {
    const { hint, pass, events, told } = await watching()
    writeFileSync(at('a.fits'), 'text')
    hint(at('a.fits'))
    await pass(700_000, 5000)
    expect(events.filter((e) => e.event === 'broken')).toMatchObject([{ code: 'not-fits', path: at('a.fits') }])
    writeFileSync(at('a.fits'), whole)
    hint(at('a.fits'))
    await pass(4000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('folders by a FITS name, pipes, loops and links to nowhere are one sentence each, and nothing hangs', async () => {
    mkdirSync(at('x.fits'))
    writeFileSync(at('x.fits/inside.fits'), whole)
    execFileSync('mkfifo', [at('pipe.fits')])
    symlinkSync(folder.path, at('loop'))
    symlinkSync(at('self.fits'), at('self.fits'))
    symlinkSync(at('nowhere'), at('dangling.fits'))
    const { told, pass } = await watching()
    await pass(1_000_000, 10_000)
    expect(told('problem').sort()).toEqual(['dangling.fits', 'loop', 'pipe.fits', 'self.fits', 'x.fits'])
    expect(told('complete')).toEqual(['x.fits/inside.fits'])
  })

  test('what is passed over is told once, and again when it is put right or goes', async () => {
    mkdirSync(at('night'))
    execFileSync('mkfifo', [at('night/pipe.fits')])
    symlinkSync(at('nowhere'), at('dangling.fits'))
    symlinkSync(folder.path, at('loop'))
    const { told, pass } = await watching()
    await pass(400_000, 10_000)
    expect(told('problem').sort()).toEqual(['dangling.fits', 'loop', 'night/pipe.fits'])
    expect(told('problem over')).toEqual([])
    writeFileSync(at('nowhere'), whole)
    rmSync(at('night'), { recursive: true })
    await pass(400_000, 10_000)
    expect(told('problem over').sort()).toEqual(['dangling.fits', 'night/pipe.fits'])
    expect(told('complete')).toEqual(['dangling.fits'])
  })

  test.skipIf(process.getuid?.() === 0)('what may not be read is told, and the rest goes on', async () => {
    writeFileSync(at('a.fits'), whole, { mode: 0 })
    mkdirSync(at('closed'))
    writeFileSync(at('closed/b.fits'), whole)
    chmodSync(at('closed'), 0)
    writeFileSync(at('c.fits'), whole)
    const { told, pass } = await watching()
    await pass(5000)
    chmodSync(at('closed'), 0o755)
    expect(told('broken')).toEqual(['a.fits'])
    expect(told('problem')).toEqual(['closed'])
    expect(told('complete')).toEqual(['c.fits'])
  })

  test('a linked folder elsewhere is watched, once', async () => {
    const other = freshFolder()
    writeFileSync(join(other.path, 'a.fits'), whole)
    symlinkSync(other.path, at('link1'))
    symlinkSync(other.path, at('link2'))
    const { told, pass } = await watching()
    await pass(700_000, 10_000)
    expect(told('complete')).toEqual(['link1/a.fits'])
    expect(told('gone')).toEqual([])
    other.remove()
  })
})

describe('frames that go', () => {
  test('are told as gone while their folder is there', async () => {
    mkdirSync(at('M31'))
    for (const name of ['a.fits', 'b.fits', 'M31/c.fits']) writeFileSync(at(name), whole)
    const { hint, pass, told } = await watching()
    rmSync(at('a.fits'))
    hint(at('a.fits'))
    await pass(100, 100)
    expect(told('gone')).toEqual(['a.fits'])
    rmSync(at('M31'), { recursive: true })
    rmSync(at('b.fits'))
    await pass(31_000)
    expect(told('gone').sort()).toEqual(['M31/c.fits', 'a.fits', 'b.fits'])
  })

  test('do not take with them a file whose name begins alike', async () => {
    writeFileSync(at('a.fits'), whole)
    writeFileSync(at('a.fits.fz'), whole.subarray(0, 4000))
    const { hint, pass, told } = await watching()
    rmSync(at('a.fits'))
    hint(at('a.fits'))
    writeFileSync(at('a.fits.fz'), whole)
    await pass(6000)
    expect(told('complete')).toEqual(['a.fits', 'a.fits.fz'])
  })

  test('a move is a file gone and the same one complete elsewhere', async () => {
    mkdirSync(at('culled'))
    writeFileSync(at('a.fits'), whole)
    const { hint, pass, told } = await watching()
    renameSync(at('a.fits'), at('culled/a.fits'))
    hint(at('a.fits'))
    hint(at('culled/a.fits'))
    await pass(1000)
    expect(told('gone')).toEqual(['a.fits'])
    expect(told('complete')).toEqual(['a.fits', 'culled/a.fits'])
  })
})

describe('a folder that vanishes', () => {
  test('is told as lost within 10 s, nothing in it as gone, and caught up with within 30 s of its return', async () => {
    writeFileSync(at('a.fits'), whole)
    const { pass, told, events } = await watching()
    renameSync(folder.path, folder.path + '-away')
    await pass(10_000)
    expect(told('folder lost')).toEqual([folder.path])
    writeFileSync(join(folder.path + '-away', 'b.fits'), whole)
    await pass(400_000, 5000)
    expect(told('gone')).toEqual([])
    expect(told('problem')).toEqual([])
    renameSync(folder.path + '-away', folder.path)
    await pass(30_000)
    expect(told('folder back')).toEqual([folder.path])
    expect(told('complete')).toEqual(['a.fits', 'b.fits'])
    expect(told('gone')).toEqual([])
    expect(events.find((e) => e.event === 'folder lost')).toMatchObject({
      reason: expect.stringContaining('connected'),
    })
  })

  test('and comes back as another one: what it held is out of reach, not gone', async () => {
    writeFileSync(at('a.fits'), whole)
    const { pass, told } = await watching()
    renameSync(folder.path, folder.path + '-away')
    mkdirSync(folder.path)
    writeFileSync(at('b.fits'), whole)
    await pass(10_000)
    expect(told('folder replaced')).toEqual([folder.path])
    expect(told('complete')).toEqual(['a.fits', 'b.fits'])
    expect(told('gone')).toEqual([])
    rmSync(folder.path + '-away', { recursive: true })
  })

  test('or was never there is told as lost, and watched when it comes', async () => {
    rmSync(folder.path, { recursive: true })
    const { pass, told } = await watching()
    expect(told('folder lost')).toEqual([folder.path])
    mkdirSync(folder.path)
    writeFileSync(at('a.fits'), whole)
    await pass(6000)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('a file at its place is no folder', async () => {
    rmSync(folder.path, { recursive: true })
    writeFileSync(folder.path, 'text')
    const { events } = await watching()
    expect(events).toMatchObject([{ event: 'folder lost', reason: expect.stringContaining('file') }])
  })
})

describe('looking without notifications', () => {
  test('a polled folder is listened to by nobody and looked through every two seconds', async () => {
    const { pass, told, listening, watcher } = await watching({ isNetwork: () => true })
    expect(listening.size).toBe(0)
    expect(watcher.folders).toMatchObject([{ polling: true, reachable: true }])
    writeFileSync(at('a.fits'), whole)
    await pass(2100, 100)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('when the system has no notifications left, looking takes over and says so', async () => {
    const { fail, pass, told, watcher } = await watching()
    fail(Object.assign(new Error('no space'), { code: 'ENOSPC' }))
    writeFileSync(at('a.fits'), whole)
    await pass(2100, 100)
    expect(told('complete')).toEqual(['a.fits'])
    expect(told('deaf')).toHaveLength(1)
    expect(watcher.folders[0].polling).toBe(true)
  })

  test('any other error of the notifications leads to a sweep', async () => {
    const { fail, pass, told } = await watching()
    writeFileSync(at('a.fits'), whole)
    fail(new Error('queue overflow'))
    await pass(100, 100)
    expect(told('complete')).toEqual(['a.fits'])
  })

  test('after a sleep of the machine everything is looked at', async () => {
    const { clock, pass, told, events } = await watching()
    const sweeps = () => events.filter((e) => e.event === 'swept').length
    const before = sweeps()
    writeFileSync(at('a.fits'), whole)
    const timers = clock.setTimeout.bind(clock)
    clock.setTimeout = (run, ms) => timers(run, ms)
    Object.defineProperty(clock, 'now', { value: () => Date.parse('2026-11-21T06:00:00Z') })
    await pass(5100, 5100)
    expect(sweeps()).toBeGreaterThan(before)
    expect(told('complete')).toEqual(['a.fits'])
  })
})

test('a folder can be added and removed while watching, and is watched only once', async () => {
  const other = freshFolder()
  writeFileSync(join(other.path, 'b.fits'), whole)
  const { watcher, events } = await watching()
  await watcher.add(other.path)
  await watcher.add(other.path + '/')
  expect(events.filter((e) => e.event === 'complete')).toHaveLength(1)
  await watcher.remove(other.path)
  expect(watcher.folders.map((f) => f.path)).toEqual([folder.path])
  expect(events.filter((e) => e.event === 'gone')).toEqual([])
  other.remove()
})
