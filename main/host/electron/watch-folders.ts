import { Refusal, type EngineLink } from '../../contract/index.ts'

/** The folders named on the command line; one that cannot be watched keeps none of the others from it. */
export function watchFolders(engine: EngineLink, folders: string[], log: (line: string) => void): void {
  for (const path of folders)
    engine.ask('watchFolder', { path }).catch((error: Error) => {
      log(error instanceof Refusal ? error.message : `A fault while starting to watch ${path}: ${error.stack}`)
    })
}
