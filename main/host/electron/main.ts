/** The Electron host, in the order in which it comes up. What each line does stands in the file that it comes from. */
import { app } from 'electron'
import { EngineKeeper } from '../engine-link.ts'
import { built } from '../built.ts'
import { readArguments } from './arguments.ts'
import { withDesktop } from './desktop.ts'
import { startUtilityProcess } from './engine-process.ts'
import { guardContents, guardSession } from './guards.ts'
import { setUpMenu } from './menu.ts'
import { followNight } from './night.ts'
import { setUpNotifications } from './notifications.ts'
import { setUpPower } from './power.ts'
import { setUpQuitting } from './quitting.ts'
import { claimScheme, serveScheme } from './scheme.ts'
import { becomeOnlyInstance } from './single-instance.ts'
import { setUpTray } from './tray.ts'
import { answerVerbs, passOnEvents } from './verbs.ts'
import { watchFolders } from './watch-folders.ts'
import { createWindow } from './window.ts'

const { dataDir, folders, quietly } = readArguments(process.argv)
const log = (line: string) => console.error(`nightshelf: ${line}`)

claimScheme()
app.enableSandbox()
if (becomeOnlyInstance(dataDir)) {
  guardContents()
  await app.whenReady()

  const engine = new EngineKeeper({ start: () => startUtilityProcess(built.engine, dataDir), log })
  const night = followNight(engine)
  guardSession()
  serveScheme(engine, built.page, log)
  watchFolders(engine, folders, log)
  setUpPower(engine, log)

  const window = createWindow(dataDir, { quietly })
  answerVerbs(withDesktop(engine, window.native), log)
  passOnEvents(engine, window)
  setUpMenu(window)
  setUpNotifications(night, window)
  setUpTray(night, window)
  setUpQuitting(engine, window)
  window.open()
}
