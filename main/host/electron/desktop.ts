import { shell } from 'electron'
import { setStartAtLogin, startAtLogin } from './login.ts'
import type { Answer, Ask, EngineLink, Handlers, RequestName } from '../../contract/index.ts'
import type { desktopRequests } from '../../contract/requests/desktop.ts'

type Desk = Pick<Handlers, keyof typeof desktopRequests>

/** The engine as a page of this host sees it: what only a desktop can do is done here, everything else by the engine. */
export function withDesktop(engine: EngineLink): EngineLink {
  const desk = desktopOf(engine)
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

const desktopOf = (engine: EngineLink): Desk => ({
  reveal: async (asked) => {
    const of =
      'frame' in asked ? ({ of: 'frame', id: asked.frame } as const) : ({ of: 'master', id: asked.master } as const)
    const { path } = await engine.ask('place', of)
    // Shown, never opened: what a file of the capture folder would start is not known.
    shell.showItemInFolder(path)
    return {}
  },
  startAtLogin: () => startAtLogin(),
  setStartAtLogin: ({ on }) => setStartAtLogin(on),
})
