import { ipcMain, type IpcMainInvokeEvent } from 'electron'
import { requests, type EngineLink } from '../../contract/index.ts'
import type { EngineKeeper } from '../engine-link.ts'
import { answerPage, isPageRequest } from '../door.ts'
import { askChannel, EVENT_CHANNEL } from './channels.ts'
import { isOwnPage } from './origin.ts'
import type { Window } from './window.ts'

/** One channel for each request that a page may ask. A sender that is not our page gets an error, never silence. */
export function answerVerbs(engine: EngineLink, log: (line: string) => void): void {
  for (const request of Object.keys(requests).filter(isPageRequest))
    ipcMain.handle(askChannel(request), async (event: IpcMainInvokeEvent, input: unknown) => {
      if (!isOwnPage(event.senderFrame)) throw new Error("Only Nightshelf's own window may ask.")
      const { id: _id, ...reply } = await answerPage(engine, { id: 0, request, input }, log)
      return reply
    })
}

/** Every event of the engine reaches the page; a page that was only just opened hears first how the engine is. */
export function passOnEvents(engine: EngineKeeper, window: Window): void {
  engine.listen((event) => window.send(EVENT_CHANNEL, event))
  window.onPageReady(() => window.send(EVENT_CHANNEL, { event: 'engine', state: engine.state }))
}
