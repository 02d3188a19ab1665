import { app } from 'electron'
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { homedir } from 'node:os'
import { dirname, join } from 'node:path'
import { Refusal, type Answer } from '../../contract/index.ts'

/** Started by the system, it watches from the tray; the window opens when it is asked for. */
const QUIETLY = '--quietly'
const HOW =
  'Nightshelf then watches its folders from the tray as soon as you log in; the window opens when you ask for it.'

/** What starts this program again: outside a package, Electron with the folder of the checkout and the data folder. */
function ownCommand(): { path: string; args: string[] } {
  const given = app.isPackaged ? process.argv.slice(1) : [app.getAppPath(), ...process.argv.slice(2)]
  const kept = given.filter((arg, i) => arg === '--data' || given[i - 1] === '--data' || (i === 0 && !app.isPackaged))
  // An image that mounts itself runs from another place each time; it says where it lies.
  return { path: process.env.APPIMAGE ?? process.execPath, args: [...kept, QUIETLY] }
}

export function startAtLogin(): Answer<'startAtLogin'> {
  const on = process.platform === 'linux' ? isInAutostart() : app.getLoginItemSettings(ownCommand()).openAtLogin
  return { possible: true, on, how: HOW }
}

/** @throws Refusal where the system does not let it */
export function setStartAtLogin(on: boolean): Answer<'startAtLogin'> {
  if (process.platform === 'linux') setAutostart(on)
  else app.setLoginItemSettings({ openAtLogin: on, ...ownCommand() })
  const now = startAtLogin()
  if (now.on !== on)
    throw new Refusal('The system did not take that over: look in its own settings for programs at log-in.')
  return now
}

/** Where desktops of Linux look ("Desktop Application Autostart Specification", freedesktop.org): Electron itself does not know it. */
const autostartFile = (env: NodeJS.ProcessEnv = process.env) =>
  join(env.XDG_CONFIG_HOME || join(homedir(), '.config'), 'autostart', 'nightshelf.desktop')

function isInAutostart(): boolean {
  try {
    return !/^Hidden=true$/m.test(readFileSync(autostartFile(), 'utf8'))
  } catch {
    return false
  }
}

function setAutostart(on: boolean): void {
  const file = autostartFile()
  try {
    if (!on) return rmSync(file, { force: true })
    const { path, args } = ownCommand()
    mkdirSync(dirname(file), { recursive: true })
    writeFileSync(file, desktopEntry([path, ...args]))
  } catch (error) {
    throw new Refusal(`"${file}" could not be written (${(error as NodeJS.ErrnoException).code}): check its folder.`)
  }
}

/** A "Desktop Entry" (freedesktop.org, section "The Exec key": quoting, and `%` doubled). */
export const desktopEntry = (command: string[]): string =>
  [
    '[Desktop Entry]',
    'Type=Application',
    'Name=Nightshelf',
    'Comment=Watches over the frames of the night',
    `Exec=${command
      .map(
        (word) =>
          `"${word
            .replace(/["`$\\]/g, '\\$&')
            .replaceAll('\\', '\\\\')
            .replaceAll('%', '%%')}"`,
      )
      .join(' ')}`,
    'Terminal=false',
    '',
  ].join('\n')
