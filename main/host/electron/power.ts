import { powerMonitor } from 'electron'
import type { EngineLink } from '../../contract/index.ts'

/** After a sleep, folders are scanned at once: what the capture software wrote around it may never have been announced. */
export function setUpPower(engine: EngineLink, log: (line: string) => void): void {
  powerMonitor.on('resume', () => {
    engine.ask('wake', {}).catch((error: Error) => log(`Not told of the end of a sleep: ${error.message}`))
  })
}
