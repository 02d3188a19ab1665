/** How often the watcher looks by itself, and how long it waits. All ms; tests pass their own. */
export interface Intervals {
  /** Each chosen folder itself, by one stat: is it there, and is it the same one? */
  rootMs: number
  /** Every folder by its time of change; what changed, or was active in the last hour, is listed. */
  glanceMs: number
  /** The same in polling mode, where nothing else tells of new files. */
  pollMs: number
  /** Everything: each folder listed, each file's size and time. */
  sweepMs: number
  /** A chosen folder that does not answer within this is out of reach. */
  answerMs: number
  /** Two looks at one file are at least this far apart. */
  spacingMs: number
  /** An unfinished file is looked at again after these, then every last one, counted from its last change. */
  retryMs: readonly number[]
  /** An unfinished file that has been quiet for this long is reported as incomplete; one that ends in a few zeros counts. */
  incompleteMs: number
  /** What may well be as it should (no padding, no image, rewritten in place) counts after so long without a change. */
  settleMs: number
  /** A file of full length that ends in many zeros counts after so long without a change: until then it may be laid out in advance. */
  zerosMs: number
}

export const defaultIntervals: Intervals = {
  rootMs: 5_000,
  glanceMs: 30_000,
  pollMs: 2_000,
  sweepMs: 300_000,
  answerMs: 8_000,
  spacingMs: 5,
  retryMs: [50, 100, 200, 400, 800, 1_600, 3_000, 5_000, 10_000],
  incompleteMs: 30_000,
  settleMs: 2_000,
  zerosMs: 600_000,
}
