import { command, query, type Readable, type Writable } from '../handle.ts'

/** Of one dark master, ADU: its level, hot pixels (99.9th and 99.99th percentile), the peak of its glow. */
export interface KeptLevels {
  medianAdu: number
  tailAdu: number
  hotAdu: number
  glowPeakAdu: number
}

const all = query<KeptLevels & { sha256: string }>(
  'SELECT sha256, median_adu AS medianAdu, tail_adu AS tailAdu, hot_adu AS hotAdu, glow_peak_adu AS glowPeakAdu FROM dark_levels',
)
/** What dark masters tell, by the SHA-256 of their file: never out of date, may be forgotten at any time. */
export const darkLevelsKept = (db: Readable): Map<string, KeptLevels> =>
  new Map(all.all(db).map(({ sha256, ...levels }) => [sha256, levels]))

const put = command<[string, number, number, number, number]>(
  'INSERT INTO dark_levels (sha256, median_adu, tail_adu, hot_adu, glow_peak_adu) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING',
)
export const keepDarkLevels = (db: Writable, sha256: string, levels: KeptLevels): void =>
  void put(db, sha256, levels.medianAdu, levels.tailAdu, levels.hotAdu, levels.glowPeakAdu)
