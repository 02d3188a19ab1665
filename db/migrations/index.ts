import first from './0001-first.sql?raw'
import handAndUndo from './0002-hand-and-undo.sql?raw'
import checksUndone from './0003-checks-undone.sql?raw'
import lightSource from './0004-light-source.sql?raw'
import polling from './0005-polling.sql?raw'
import asideWhy from './0006-aside-why.sql?raw'
import sensorFigures from './0007-sensor-figures.sql?raw'
import targets from './0008-targets.sql?raw'
import masterCards from './0009-master-cards.sql?raw'
import missingFiles from './0010-missing-files.sql?raw'

export interface Migration {
  version: number
  sql: string
}

/** In order, without a gap. A published migration is never edited: a change is a new file. */
export const migrations: Migration[] = [
  { version: 1, sql: first },
  { version: 2, sql: handAndUndo },
  { version: 3, sql: checksUndone },
  { version: 4, sql: lightSource },
  { version: 5, sql: polling },
  { version: 6, sql: asideWhy },
  { version: 7, sql: sensorFigures },
  { version: 8, sql: targets },
  { version: 9, sql: masterCards },
  { version: 10, sql: missingFiles },
]
