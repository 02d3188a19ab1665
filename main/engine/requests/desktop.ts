import { Refusal, type Handlers } from '../../contract/index.ts'
import type { desktopRequests } from '../../contract/requests/desktop.ts'
import type { Core } from '../core.ts'
import { storedOf } from '../files/pixels.ts'

const BY_HAND =
  'Shown by a browser, Nightshelf cannot set this: let the machine start "npm start -- --headless" in its folder at log-in (a user service of systemd on Linux, a login item on macOS, the Task Scheduler on Windows).'

/** What is answered where no desktop stands between the page and the engine. */
export const desktopHandlers = (core: Core): Pick<Handlers, keyof typeof desktopRequests> => ({
  reveal: (asked) => {
    const { path } = 'frame' in asked ? storedOf(core, 'frame', asked.frame) : storedOf(core, 'master', asked.master)
    throw new Refusal(`A browser cannot open a file manager: the file stands at ${path} on the machine that logs.`)
  },
  chooseFolder: () => {
    throw new Refusal('A browser cannot open a window of that machine: type the path of the folder, or walk there.')
  },
  saveNightLog: ({ night }) => {
    throw new Refusal(
      `A browser saves the table by itself; on the machine that logs, "nightshelf export FILE.csv --night ${night}" writes it.`,
    )
  },
  startAtLogin: () => ({ possible: false, on: false, how: BY_HAND }),
  setStartAtLogin: () => {
    throw new Refusal(BY_HAND)
  },
})
