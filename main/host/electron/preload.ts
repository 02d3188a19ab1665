import { contextBridge, ipcRenderer, type IpcRendererEvent } from 'electron'
import { hostRequests, requests, type EngineEvent, type NightshelfBridge } from '../../contract/index.ts'
import { askChannel, EVENT_CHANNEL } from './channels.ts'

/** One verb a request, each bound to its own channel: the page gets no way to name a channel itself. */
const verbs = Object.keys(requests)
  .filter((name) => !Object.hasOwn(hostRequests, name))
  .map((name) => [name, (input: unknown) => ipcRenderer.invoke(askChannel(name), input)])

const bridge: NightshelfBridge = {
  ask: Object.fromEntries(verbs) as NightshelfBridge['ask'],
  listen: (listener) => {
    // The event object would hand the page a way to the sender; only what was said is passed on.
    const hear = (_event: IpcRendererEvent, said: EngineEvent) => listener(said)
    ipcRenderer.on(EVENT_CHANNEL, hear)
    return () => void ipcRenderer.off(EVENT_CHANNEL, hear)
  },
}

contextBridge.exposeInMainWorld('nightshelf', bridge)
