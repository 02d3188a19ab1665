import type { FileShape } from './complete.ts'
import type { FileStat } from './stat.ts'

/** What a watcher tells. `folder` is the chosen folder, as it was given (made absolute). */
export type WatchEvent =
  /** All bytes are there; `again` if it was complete before and has been written since. `info`: what its header says of it. */
  | { event: 'complete'; folder: string; path: string; stat: FileStat; info: FileShape; again: boolean }
  /** It stays short. The watcher goes on looking; `complete` follows if the rest comes. */
  | { event: 'incomplete'; folder: string; path: string; stat: FileStat; reason: string }
  /** It can be no frame as it is (`code` of FitsError); told again after it changes. */
  | { event: 'broken'; folder: string; path: string; stat: FileStat; reason: string; code: string }
  /** A path that is passed over: a pipe, a link loop, a folder that may not be read. Told once for each reason. */
  | { event: 'problem'; folder: string; path: string; reason: string }
  /** A path that was passed over is not any more: it was put right, or went. */
  | { event: 'problem over'; folder: string; path: string }
  /** The system tells nothing of this folder any more; it is looked through every few seconds instead. One sentence. */
  | { event: 'deaf'; folder: string; reason: string }
  /** Was there, and is not any more, while its folder is there. A move is this and a `complete` elsewhere, in either order. */
  | { event: 'gone'; folder: string; path: string }
  /** The chosen folder is out of reach (no file of it is gone for that). */
  | { event: 'folder lost'; folder: string; reason: string }
  /** It is back, the same as before; files that went meanwhile follow as `gone`. */
  | { event: 'folder back'; folder: string }
  /** Another folder or disk stands in its place. What it held is out of reach, unless `isKnown` is asked for it again. */
  | { event: 'folder replaced'; folder: string }
  /** Everything in the folder was looked at once. `first` after the watch began, or a lost folder came back. */
  | { event: 'swept'; folder: string; files: number; first: boolean; tookMs: number }
