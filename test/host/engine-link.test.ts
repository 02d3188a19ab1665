import { existsSync, readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { OPENING, Refusal, type EngineEvent, type FromEngine } from '../../main/contract/index.ts'
import { EngineAway, EngineKeeper, engineEnvironment, type EngineProcess } from '../../main/host/engine-link.ts'
import { forkEngine } from '../../main/host/headless/engine-process.ts'
import { fakeEngine, letIn, makeFolders, Page, stage } from './support/headless.ts'

const pidOf = async (engine: EngineKeeper) => (await engine.ask('nights', {})).nights[0].frames

/** The next event that says so; to be called before what causes it. */
const untilState = (engine: EngineKeeper, state: string) =>
  new Promise<void>((resolve) => {
    const stop = engine.listen((event) => {
      if (event.event !== 'engine' || event.state !== state) return
      stop()
      resolve()
    })
  })

describe('an engine that dies', () => {
  test('rejects what was pending with a sentence, says that it is lost, and comes back as a new process', async () => {
    await using host = await stage()
    const before = await pidOf(host.engine)
    const heard: EngineEvent[] = []
    host.engine.listen((event) => heard.push(event))
    const back = untilState(host.engine, 'ready')
    const pending = host.engine.ask('verifyLibrary', {})
    process.kill(before, 'SIGKILL')
    await expect(pending).rejects.toThrow(/stopped while this was being done/)
    await expect(pending).rejects.toBeInstanceOf(Refusal)
    await expect(host.engine.ask('nights', {})).rejects.toBeInstanceOf(EngineAway)
    await back
    expect(heard).toEqual(['lost', 'starting', 'ready'].map((state) => ({ event: 'engine', state })))
    expect(await pidOf(host.engine)).not.toBe(before)
    expect(host.log).toEqual([expect.stringContaining('ended unexpectedly')])
  })

  test('is told to a page that is open, whose connection and session stay good', async () => {
    await using host = await stage()
    const { page } = await letIn(host)
    const engineSays = (state: string) =>
      page.next((m) => 'event' in m && m.event.event === 'engine' && m.event.state === state)
    const pending = page.ask('verifyLibrary')
    process.kill(await pidOf(host.engine), 'SIGKILL')
    expect(await pending).toMatchObject({ refused: expect.stringContaining('try again') })
    await engineSays('lost')
    await engineSays('ready')
    expect(await page.ask('nights')).toHaveProperty('answer')
  })

  test('is started again however often, with pauses that grow while it never lives long and no request lost silently', async () => {
    const processes: { exit: (code: number) => void }[] = []
    const start = (): EngineProcess => {
      let exit = (_code: number | null) => {}
      processes.push({ exit: (code) => exit(code) })
      return { send: () => {}, onMessage: () => {}, onExit: (listener) => (exit = listener), kill: () => {} }
    }
    const log: string[] = []
    const engine = new EngineKeeper({ start, log: (line) => log.push(line), pausesMs: [1, 2, 3] })
    for (let death = 0; death < 5; death++) {
      const starting = untilState(engine, 'starting')
      const asked = engine.ask('nights', {})
      processes.at(-1)!.exit(1)
      await expect(asked).rejects.toBeInstanceOf(Refusal)
      await starting
    }
    expect(processes).toHaveLength(6)
    expect(log.map((line) => line.match(/in (\S+) s/)?.[1])).toEqual(['0.001', '0.002', '0.003', '0.003', '0.003'])
  })
})

describe('an engine that starts', () => {
  test('gives memory back as it goes, unless the user says how', () => {
    const own = { PATH: '/bin', MALLOC_ARENA_MAX: '8' }
    expect(engineEnvironment(own)).toEqual({
      ...own,
      MALLOC_MMAP_THRESHOLD_: expect.stringMatching(/^\d+$/),
      MALLOC_TRIM_THRESHOLD_: expect.stringMatching(/^\d+$/),
    })
  })

  test('tells what it does meanwhile, in the log and to whoever comes while it lasts, and no more once it is ready', () => {
    let say = (_message: FromEngine) => {}
    const start = (): EngineProcess => ({
      send: () => {},
      onMessage: (listener) => (say = listener),
      onExit: () => {},
      kill: () => {},
    })
    const log: string[] = []
    const engine = new EngineKeeper({ start, log: (line) => log.push(line) })
    const title = 'Bringing the log to this version'
    const event = { ...{ job: OPENING, title, done: 1, total: 2, leftS: null, text: null }, event: 'progress' as const }
    say({ event: { ...event, state: 'running' } })
    const heard: EngineEvent[] = []
    engine.listen((one) => heard.push(one))
    expect(heard).toEqual([{ ...event, state: 'running' }])
    expect(log).toEqual([`${title}…`])
    say({ event: { ...event, done: 2, state: 'done' } })
    say({ event: { event: 'engine', state: 'ready' } })
    const late: EngineEvent[] = []
    engine.listen((one) => late.push(one))
    expect(late).toEqual([])
    expect(log).toHaveLength(1)
  })

  test('is asked what was asked before it was ready', async () => {
    const folders = makeFolders()
    const engine = new EngineKeeper({ start: () => forkEngine(fakeEngine, folders.data) })
    expect(engine.state).toBe('starting')
    expect((await engine.ask('nights', {})).nights).toHaveLength(1)
    await engine.close()
    folders.remove()
  })

  test('and cannot open its database refuses with its own sentence', async () => {
    const folders = makeFolders('refuses')
    const engine = new EngineKeeper({ start: () => forkEngine(fakeEngine, folders.data) })
    const asked = engine.ask('nights', {})
    await expect(engine.opened).rejects.toThrow('newer Nightshelf')
    await expect(asked).rejects.toThrow('newer Nightshelf')
    await engine.close()
    folders.remove()
  })
})

describe('closing', () => {
  test('lets the engine close its database, ends its process and refuses what comes later', async () => {
    const host = await stage({}, { ...makeFolders(), remove: () => {} })
    const pid = await pidOf(host.engine)
    const { page } = await letIn(host)
    await host[Symbol.asyncDispose]()
    expect(readFileSync(`${host.folders.data}/engine.log`, 'utf8')).toBe('closed\n')
    expect(() => process.kill(pid, 0)).toThrow('ESRCH')
    expect(await page.closed).toBe(1001)
    await expect(host.engine.ask('nights', {})).rejects.toThrow('closing')
    await expect(Page.open(host.origin)).rejects.toThrow('ECONNREFUSED')
  })

  test('waits for an engine that is only just starting, and ends one that never answers', async () => {
    const folders = makeFolders()
    const early = new EngineKeeper({ start: () => forkEngine(fakeEngine, folders.data) })
    await early.close()
    expect(existsSync(`${folders.data}/engine.log`)).toBe(true)
    let killed = false
    const deaf = (): EngineProcess => {
      let exit = (_code: number | null) => {}
      const kill = () => {
        killed = true
        exit(null)
      }
      return { send: () => {}, onMessage: () => {}, onExit: (listener) => (exit = listener), kill }
    }
    await new EngineKeeper({ start: deaf, patienceMs: 20 }).close()
    expect(killed).toBe(true)
    folders.remove()
  })
})
