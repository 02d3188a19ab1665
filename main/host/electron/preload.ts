import { contextBridge, ipcRenderer, webUtils, type IpcRendererEvent } from 'electron'
import type { EngineEvent, NightshelfBridge } from '../../contract/index.ts'
import { askChannel, EVENT_CHANNEL } from './channels.ts'

/** The names of the contract's requests for pages, put in by the build: the schemas need not come along for them. */
declare const PAGE_REQUESTS: string[]

/** One verb a request, each bound to its own channel: the page gets no way to name a channel itself. */
const verbs = PAGE_REQUESTS.map((name) => [name, (input: unknown) => ipcRenderer.invoke(askChannel(name), input)])

const bridge: NightshelfBridge = {
  ask: Object.fromEntries(verbs) as NightshelfBridge['ask'],
  listen: (listener) => {
    // The event object would hand the page a way to the sender; only what was said is passed on.
    const hear = (_event: IpcRendererEvent, said: EngineEvent) => listener(said)
    ipcRenderer.on(EVENT_CHANNEL, hear)
    return () => void ipcRenderer.off(EVENT_CHANNEL, hear)
  },
  // A page cannot make a File that stands somewhere: only what a person dropped or chose has a path.
  pathOf: (file) => webUtils.getPathForFile(file),
}

contextBridge.exposeInMainWorld('nightshelf', bridge)
