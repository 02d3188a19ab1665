import { homedir } from 'node:os'
import { join } from 'node:path'

/** The platform's application-data folder for this program: database, built masters, backups. */
export function defaultDataDir(
  env: NodeJS.ProcessEnv = process.env,
  platform: NodeJS.Platform = process.platform,
): string {
  if (platform === 'win32') return join(env.APPDATA ?? join(homedir(), 'AppData', 'Roaming'), 'Nightshelf')
  if (platform === 'darwin') return join(homedir(), 'Library', 'Application Support', 'Nightshelf')
  return join(env.XDG_DATA_HOME ?? join(homedir(), '.local', 'share'), 'nightshelf')
}
