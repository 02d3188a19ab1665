import { existsSync } from 'node:fs'
import { registerHooks } from 'node:module'
import { constants, Script } from 'node:vm'
import { makeFolders, untilTrue } from '../../support/headless.ts'
import { StandIn } from './stand-in.ts'

const script = new URL('../../../../out/main/electron.js', import.meta.url)

export interface Booted extends AsyncDisposable {
  electron: StandIn
  folders: ReturnType<typeof makeFolders>
}

const standIns: ReturnType<StandIn['module']>[] = []
/** Node's own import: the test runner's would wrap the built script, and it must run as it is. */
const importAsBuilt = new Script('(href) => import(href)', {
  importModuleDynamically: constants.USE_MAIN_CONTEXT_DEFAULT_LOADER,
}).runInThisContext() as (href: string) => Promise<unknown>

registerHooks({
  resolve: (specifier, context, next) => {
    const [, number] = /\?boot=(\d+)$/.exec(context.parentURL ?? '') ?? []
    if (specifier !== 'electron' || !number) return next(specifier, context)
    return { url: `stand-in:${number}`, format: 'module', shortCircuit: true }
  },
  load: (url, context, next) => {
    if (!url.startsWith('stand-in:')) return next(url, context)
    const number = Number(url.slice('stand-in:'.length))
    const names = Object.keys(standIns[number]).join(', ')
    return {
      format: 'module',
      source: `export const { ${names} } = globalThis.standIns[${number}]`,
      shortCircuit: true,
    }
  },
})
Object.assign(globalThis, { standIns })

/** Runs the built main script against the stand-in, as Electron would run it. */
export async function boot(
  options: {
    isFirst?: boolean
    args?: string[]
    dataName?: string
    runsRealEngine?: boolean
    /** What to put into the data folder first. */
    before?: (data: string) => void
  } = {},
): Promise<Booted> {
  if (!existsSync(script)) throw new Error('This needs the build: run "npm run build" first.')
  const folders = makeFolders(options.dataName)
  options.before?.(folders.data)
  const electron = new StandIn()
  electron.isFirst = options.isFirst ?? true
  electron.runsRealEngine = options.runsRealEngine ?? false
  const argv = process.argv
  const signals = ['SIGTERM', 'SIGINT'] as const
  const before = signals.map((signal) => process.listeners(signal))
  process.argv = ['electron', '.', '--data', folders.data, ...(options.args ?? [])]
  await importAsBuilt(`${script.href}?boot=${standIns.push(electron.module()) - 1}`)
  process.argv = argv
  return {
    electron,
    folders,
    [Symbol.asyncDispose]: async () => {
      if (electron.engines.length) {
        ;(electron.app.quit as () => void)()
        await electron.quit
      }
      signals.forEach((signal, i) => {
        for (const listener of process.listeners(signal))
          if (!before[i].includes(listener)) process.off(signal, listener)
      })
      folders.remove()
    },
  }
}

/** Waits for the engine to be ready. */
export const engineReady = (electron: StandIn) =>
  untilTrue(() => electron.calls('webContents.send').some(([, event]) => JSON.stringify(event).includes('ready')))
