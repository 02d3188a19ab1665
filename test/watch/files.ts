import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { HintSource, Hints } from '../../main/watch/hints.ts'
import { watchFolders, type WatchClock, type WatchEvent, type WatchOptions } from '../../main/watch/watch.ts'

const card = (text: string) => text.padEnd(80)
const value = (keyword: string, v: string | number) => card(`${keyword.padEnd(8)}= ${String(v).padStart(20)}`)

/** A small FITS file of unsigned 16-bit noise: header, data and padding as the standard asks. */
export function fitsBytes({ width = 40, height = 50, seed = 1 } = {}): Buffer {
  const cards = [
    value('SIMPLE', 'T'),
    value('BITPIX', 16),
    value('NAXIS', 2),
    value('NAXIS1', width),
    value('NAXIS2', height),
    value('BZERO', 32768),
    value('BSCALE', 1),
    value('SEED', seed),
    card('END'),
  ].join('')
  const header = Buffer.from(cards.padEnd(Math.ceil(cards.length / 2880) * 2880))
  const data = Buffer.alloc(Math.ceil((width * height * 2) / 2880) * 2880)
  let state = seed * 2654435761
  for (let i = 0; i < width * height; i++) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    data.writeInt16BE(((state >>> 20) | 1) - 30000, i * 2)
  }
  return Buffer.concat([header, data])
}

/** A fresh folder that goes away with the test. */
export function freshFolder(): { path: string; remove: () => void } {
  const path = mkdtempSync(join(tmpdir(), 'nightshelf-watch-'))
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) }
}

/** A clock that stands still until it is moved. */
export class HandClock implements WatchClock {
  #now = Date.parse('2026-11-20T20:00:00Z')
  #timers = new Map<number, { at: number; run: () => void }>()
  #next = 1

  now(): number {
    return this.#now
  }
  setTimeout(run: () => void, ms: number): number {
    this.#timers.set(this.#next, { at: this.#now + ms, run })
    return this.#next++
  }
  clearTimeout(timer: unknown): void {
    this.#timers.delete(timer as number)
  }
  /** Runs what is due on the way, in order. */
  advance(ms: number): void {
    const end = this.#now + ms
    for (;;) {
      let next: [number, { at: number; run: () => void }] | null = null
      for (const entry of this.#timers) if (entry[1].at <= end && (!next || entry[1].at < next[1].at)) next = entry
      if (!next) break
      this.#timers.delete(next[0])
      this.#now = Math.max(this.#now, next[1].at)
      next[1].run()
    }
    this.#now = end
  }
}

/** Hints given by hand, or dropped. */
export function handHints() {
  let hint: (path: string) => void = () => {}
  let error: (error: Error) => void = () => {}
  const folders = new Set<string>()
  const source: HintSource = (onHint, onError) => {
    hint = onHint
    error = onError
    const hints: Hints = {
      add: (folder) => void folders.add(folder),
      remove: (folder) => void folders.delete(folder),
      close: async () => folders.clear(),
    }
    return hints
  }
  return { source, folders, hint: (path: string) => hint(path), fail: (e: Error) => error(e) }
}

/** A watcher over one folder with everything in hand. */
export async function watchByHand(folder: string, more: Partial<WatchOptions> = {}) {
  const clock = new HandClock()
  const hints = handHints()
  const events: WatchEvent[] = []
  const watcher = watchFolders({
    folders: [folder],
    on: (event) => void events.push(event),
    clock,
    hints: hints.source,
    isNetwork: () => false,
    ...more,
  })
  await watcher.ready
  await watcher.settled()
  /** Lets time pass in steps, with the looks at the disk done in between. */
  const pass = async (ms: number, step = 1000) => {
    for (let left = ms; left > 0; left -= step) {
      clock.advance(Math.min(left, step))
      await new Promise((resolve) => setImmediate(resolve))
      await watcher.settled()
    }
  }
  const told = (event: WatchEvent['event']) =>
    events.filter((e) => e.event === event).map((e) => ('path' in e ? e.path.slice(folder.length + 1) : e.folder))
  return { watcher, clock, events, pass, told, hint: hints.hint, fail: hints.fail, listening: hints.folders }
}
