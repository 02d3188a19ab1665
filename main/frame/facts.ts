import type { Frame, Kind } from '../contract/index.ts'
import type { ProgramAnswer, Spelling } from './dictionary.ts'

/** One header card, as `main/fits` reads it. `value` is null where the card has none. */
export interface CardLike {
  readonly keyword: string
  readonly value: unknown
  readonly comment: string
  /** 'text' for a record that only looks like a keyword (COMMENT, or no value indicator): it sets nothing. */
  readonly form?: string
}

/** The least that this folder needs of a header; `Header` of `main/fits` is one. */
export interface HeaderLike {
  readonly cards: readonly CardLike[]
}

/** What a header and its file say about a frame: everything but what the database (id) and the pixels (figures) add. */
export type FrameFacts = Omit<Frame, 'id' | 'figures'>

export interface FrameFile {
  /** Absolute path. */
  path: string
  /**
   * The folder that the user chose (watched, or given to `log`). Words in the path below it count for kind and aside; of its
   * own name only the kind ("flats"), of what stands above it nothing. Without it, the file's name and two folders count.
   */
  root?: string | null
  /** Last modification, ms since 1970: gives the night of a frame that has no date. */
  mtimeMs: number
  /** Pixels of the image, from the structure of the file. */
  width: number | null
  height: number | null
}

/** What the user said about the rig that writes into this folder, as it stood when the frame was taken. */
export interface RigContext {
  name: string
  train: string | null
  /** The filter in a drawer, "since …": used where the header names none. */
  filter: string | null
  /** The user's name for the camera body: used where the header has no serial number. */
  body: string | null
  /** Where set, the rig speaks only for frames of this camera (INSTRUME). */
  camera?: string | null
  site: { latDeg: number; longDeg: number } | null
}

export interface FrameContext {
  /** The user's own header spellings; they come before the built-in ones. */
  spellings?: readonly Spelling[]
  /** What the user answered about a program's keywords. */
  programs?: readonly ProgramAnswer[]
  /** Other names of the user's filters → the name to use ("Hydrogen" → "Ha"); case does not matter. */
  filterAliases?: Readonly<Record<string, string>>
  /** Words for a kind beyond the built-in ones ("Dunkelbild" → "dark"); case does not matter. */
  kindWords?: Readonly<Record<string, Kind>>
  /** Words that set a frame aside, instead of the built-in ones. */
  asideWords?: readonly string[]
  /** IANA name of the zone in which a night is told where neither the header nor a site does. */
  zone: string
  rig: RigContext | null
}
