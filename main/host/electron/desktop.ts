import { dialog, shell, type BrowserWindow } from 'electron'
import { setStartAtLogin, startAtLogin } from './login.ts'
import type { Answer, Ask, EngineLink, Handlers, RequestName } from '../../contract/index.ts'
import type { desktopRequests } from '../../contract/requests/desktop.ts'

type Desk = Pick<Handlers, keyof typeof desktopRequests>

/**
 * The engine as a page of this host sees it: what only a desktop can do is done here, everything else by the engine.
 * @param window to which dialogs belong
 */
export function withDesktop(engine: EngineLink, window: BrowserWindow): EngineLink {
  const desk = desktopOf(engine, window)
  return {
    ask: <R extends RequestName>(request: R, input: Ask<R>): Promise<Answer<R>> => {
      if (!Object.hasOwn(desk, request)) return engine.ask(request, input)
      const answer = desk[request as keyof Desk] as unknown as (input: Ask<R>) => Answer<R> | Promise<Answer<R>>
      return Promise.resolve(input).then(answer)
    },
    listen: (listener) => engine.listen(listener),
    close: () => engine.close(),
  }
}

const desktopOf = (engine: EngineLink, window: BrowserWindow): Desk => ({
  reveal: async (asked) => {
    const of =
      'frame' in asked ? ({ of: 'frame', id: asked.frame } as const) : ({ of: 'master', id: asked.master } as const)
    const { path } = await engine.ask('place', of)
    // Shown, never opened: what a file of the capture folder would start is not known.
    shell.showItemInFolder(path)
    return {}
  },
  chooseFolder: async () => {
    const title = 'The folder that your camera writes to'
    const { canceled, filePaths } = await dialog.showOpenDialog(window, { title, properties: ['openDirectory'] })
    return { path: canceled ? null : (filePaths[0] ?? null) }
  },
  saveNightLog: async ({ night }) => {
    const { canceled, filePath } = await dialog.showSaveDialog(window, {
      title: `The log of the night of ${night}`,
      defaultPath: `night-${night}.csv`,
      filters: [{ name: 'Table (CSV)', extensions: ['csv'] }],
    })
    if (canceled || !filePath) return { saved: false, frames: 0 }
    const { frames } = await engine.ask('writeNightLog', { night, path: filePath })
    return { saved: true, frames }
  },
  startAtLogin: () => startAtLogin(),
  setStartAtLogin: ({ on }) => setStartAtLogin(on),
})
