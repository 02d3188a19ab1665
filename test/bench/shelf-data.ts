import { mkdirSync, renameSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { immediately, type Writable } from '../../db/handle.ts'
import { openDatabase } from '../../db/open.ts'

/** A data folder with so many masters: five cameras, darks, dark flats and flats over years, as no one person has them. Seeded by their number. */
export function makeShelf(dataDir: string, masters: number): void {
  const unfinished = `${dataDir}.unfinished`
  rmSync(unfinished, { recursive: true, force: true })
  mkdirSync(unfinished, { recursive: true })
  const db = openDatabase(join(unfinished, 'nightshelf.db'))
  db.pragma('synchronous = OFF')
  putMasters(db, masters)
  db.pragma('wal_checkpoint(TRUNCATE)')
  db.close()
  renameSync(unfinished, dataDir)
}

/** So many masters besides those that are there. */
export function putMasters(db: Writable, masters: number): void {
  const put = db.prepare(
    `INSERT INTO masters (kind, path, size, sha256, state, camera, body, width, height, binning, readout, gain, "offset", set_temp_c,
       sensor_temp_c, exposure_s, filter, frames, made_at, proven_at, scale, subtracted, program, figures, added_at, built)
     VALUES (@kind, @path, 23400000, @sha, @state, @camera, @body, 4144, 2822, '1x1', 'Standard', @gain, 30, @temp,
       @measured, @exposure, @filter, @frames, @made, @proven, 'adu', 'none', 'Evening Capture 3.1', @figures, @made, 0)`,
  )
  const exposures = [1, 2, 5, 10, 30, 60, 120, 180, 300, 600, 900, 1200]
  const filters = ['luminance', 'dual-band', 'Ha', 'OIII', 'SII', 'red', 'green', 'blue']
  immediately(db, () => {
    for (let n = 0; n < masters; n++) {
      const kind = (['dark', 'dark', 'dark', 'darkFlat', 'flat'] as const)[n % 5]
      const temp = [-20, -10, 0][Math.floor(n / 60) % 3]
      const made = new Date(Date.UTC(2026, 10, 20) - (n % 1500) * 86_400_000).toISOString()
      put.run({
        kind,
        path: `/masters/${n}.fits`,
        sha: n.toString(16).padStart(64, '0'),
        state: n % 40 === 7 ? 'retired' : 'ready',
        camera: ['Kestrel 294C', 'Heron 11C', 'Merlin 571M', 'Osprey 2600M', 'Plover 533C'][Math.floor(n / 7) % 5],
        body: `B-${Math.floor(n / 7) % 5}`,
        gain: [0, 100, 120, 200][Math.floor(n / 35) % 4],
        temp,
        measured: temp + ((n % 7) - 3) / 10,
        exposure: kind === 'dark' ? exposures[Math.floor(n / 5) % exposures.length] : 2 + (n % 90) / 10,
        filter: kind === 'flat' ? filters[n % filters.length] : null,
        frames: 10 + (n % 40),
        made,
        proven: n % 9 === 0 ? made : null,
        figures: JSON.stringify({ median: 500, noise: 1 + (n % 100) / 50, hotPixels: n % 5000, glowPeakAdu: n % 80 }),
      })
    }
  })
}
