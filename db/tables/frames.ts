import type { Figures, Frame } from '../../main/contract/index.ts'
import type { FrameFacts } from '../../main/frame/facts.ts'
import { darkKey, flatKey } from '../../main/frame/keys.ts'
import { assignments, columns, factForms, fields, fromStored, places, toStored } from '../columns.ts'
import { command, query, values, type Readable, type Writable } from '../handle.ts'
import { withHand } from './frame-hands.ts'
import { keyId } from './match-keys.ts'

/** A frame as it is written: its facts, what makes it itself, and why it is broken if it is. */
export interface NewFrame {
  facts: FrameFacts
  fingerprint: Buffer
  size: number
  problem: string | null
}

/** The few columns that placing a file needs. */
export interface FrameIdentity {
  id: number
  path: string
  state: Frame['state']
  problem: string | null
  /** 1 where it is a master among raw frames. */
  integrated: number
}

const described = [...Object.keys(factForms), 'darkKey', 'flatKey']
const written = [...described, 'fingerprint', 'size', 'problem']

/** A row of `wholeFrames`: a frame whose flags and JSON are still as they are stored. */
export type FrameRow = Record<string, unknown> & { figures: string | null }
type Bound = (string | number | Buffer | null)[]

const insert = command<Bound>(`INSERT INTO frames (${columns(written)}, logged_at) VALUES (${places(written)}, ?)`)
const update = command<Bound>(
  `UPDATE frames SET ${assignments(written)}, amended_at = ?, measured_at = NULL WHERE id = ?`,
)
const storedFacts = values<[number]>(`SELECT ${columns(Object.keys(factForms))} FROM frames WHERE id = ?`)
const describe = command<Bound>(`UPDATE frames SET ${assignments(described)} WHERE id = ?`)

const bind = (db: Writable, facts: FrameFacts): Bound => [
  ...toStored(factForms, facts),
  keyId(db, darkKey(facts)),
  keyId(db, flatKey(facts)),
]
const bindNew = (db: Writable, { facts, fingerprint, size, problem }: NewFrame): Bound => [
  ...bind(db, facts),
  fingerprint,
  size,
  problem,
]

/** @returns the new frame's id */
export const insertFrame = (db: Writable, frame: NewFrame, at: string): number =>
  insert(db, ...bindNew(db, frame), at).id

/** The same file has new bytes: the row says what they say, and waits to be measured again. */
export const amendFrame = (db: Writable, id: number, frame: NewFrame, at: string): void =>
  void update(db, ...bindNew(db, { ...frame, facts: withHand(db, id, frame.facts) }), at, id)

/**
 * The header says the same, but it is understood differently now (a spelling was added, a rig was named, a hand decided).
 * @returns false where that makes no difference
 */
export function describeAgain(db: Writable, id: number, facts: FrameFacts): boolean {
  const told = withHand(db, id, facts)
  const stored = storedFacts(db, id)
  if (!stored || toStored(factForms, told).every((value, i) => value === stored[i])) return false
  describe(db, ...bind(db, told), id)
  return true
}

const setPath = command<[string, number]>('UPDATE frames SET path = ? WHERE id = ?')
export const moveFrame = (db: Writable, id: number, path: string): void => void setPath(db, path, id)

const setState = command<[string, string | null, number]>('UPDATE frames SET state = ?, problem = ? WHERE id = ?')
export const setFrameState = (db: Writable, id: number, state: Frame['state'], problem: string | null): void =>
  void setState(db, state, problem, id)

const identity = 'id, path, state, problem, integrated'
const byFingerprint = query<FrameIdentity, [Buffer]>(`SELECT ${identity} FROM frames WHERE fingerprint = ?`)
export const frameByFingerprint = (db: Readable, fingerprint: Buffer): FrameIdentity | undefined =>
  byFingerprint.one(db, fingerprint)

const identityById = query<FrameIdentity, [number]>(`SELECT ${identity} FROM frames WHERE id = ?`)
export const frameIdentity = (db: Readable, id: number): FrameIdentity | undefined => identityById.one(db, id)

const facts = `SELECT frames.id, ${fields(factForms, 'frames')}`
/** What `toFrame` makes a frame of. */
export const wholeFrames = `${facts}, frame_figures.figures FROM frames LEFT JOIN frame_figures ON frame_id = frames.id`
/** The same where nobody asks for figures, which are most of what there is to read. */
export const framesUnmeasured = `${facts}, NULL AS figures FROM frames`
const byId = query<FrameRow, [number]>(`${wholeFrames} WHERE frames.id = ?`)
const ofNight = query<FrameRow, [string]>(`${wholeFrames} WHERE night = ? ORDER BY started_at, path, frames.id`)
const ofKind = query<FrameRow, [string]>(
  `${wholeFrames} WHERE kind = ? AND state = 'ok' ORDER BY night, started_at, path, frames.id`,
)
const lights = query<FrameRow, [string]>(
  `${framesUnmeasured} WHERE night = ? AND kind = 'light' AND aside = 0 AND rig IS NOT NULL`,
)
const isDark = "kind IN ('dark', 'darkFlat', 'bias')"
const darks = query<FrameRow, [string]>(
  `${wholeFrames} WHERE night = ? AND ${isDark} ORDER BY started_at, path, frames.id`,
)
const others = query<{ found: number }, [string]>(
  `SELECT EXISTS (SELECT 1 FROM frames WHERE night = ? AND NOT ${isDark}) AS found`,
)
const integrated = query<FrameRow>(`${wholeFrames} WHERE integrated = 1 ORDER BY path`)

export const frameById = (db: Readable, id: number): Frame | undefined => {
  const row = byId.one(db, id)
  return row && toFrame(row)
}
/** All frames of a night, by start of exposure. */
export const framesOfNight = (db: Readable, night: string): Frame[] => ofNight.all(db, night).map(toFrame)
/** Darks, dark flats and bias frames of a night. */
export const darksOfNight = (db: Readable, night: string): Frame[] => darks.all(db, night).map(toFrame)
export const hasOtherThanDarks = (db: Readable, night: string): boolean => others.one(db, night)?.found === 1
/** Without figures: lights of a night in use that a rig is known of. */
export const lightsOfRigs = (db: Readable, night: string): Frame[] => lights.all(db, night).map(toFrame)
/** All sound frames of a kind, of any night. */
export const framesOfKind = (db: Readable, kind: Frame['kind']): Frame[] => ofKind.all(db, kind).map(toFrame)
/** Files among the raw frames that are masters: integrated from more than one frame. */
export const integratedFrames = (db: Readable): Frame[] => integrated.all(db).map(toFrame)

const toFacts = fromStored(factForms)

/** The row itself becomes the frame. */
export function toFrame(row: FrameRow): Frame {
  const frame = toFacts(row) as unknown as Frame
  frame.figures = row.figures === null ? null : (JSON.parse(row.figures) as Figures)
  return frame
}

type Place = Pick<Frame, 'night' | 'kind' | 'aside' | 'rig'>
const placeOf = ({ night, kind, aside, rig }: Place): [string, string, number, string | null] => [
  night,
  kind,
  aside ? 1 : 0,
  rig,
]
const alike = "night = ? AND kind = ? AND aside = ? AND rig IS ? AND state != 'gone'"

const earlier = query<{ n: number }, [string, string, number, string | null, string, number]>(
  `SELECT count(*) AS n FROM frames WHERE ${alike} AND (coalesce(started_at, ''), id) < (?, ?)`,
)
/** How many frames of its kind came before it on its rig in its night, plus one; frames set aside count among themselves. */
export const numberInNight = (db: Readable, frame: Place & Pick<Frame, 'id' | 'startedAt'>): number =>
  1 + (earlier.one(db, ...placeOf(frame), frame.startedAt ?? '', frame.id)?.n ?? 0)

type Value = string | number | null
const temps = query<
  { tempC: number },
  [string, string, number, string | null, Value, Value, Value, Value, Value, Value]
>(
  `SELECT sensor_temp_c AS tempC FROM frames WHERE ${alike} AND sensor_temp_c IS NOT NULL AND camera IS ? AND filter IS ?
      AND target IS ? AND exposure_s IS ? AND set_temp_c IS ? AND gain IS ? ORDER BY sensor_temp_c`,
)
/** Median measured temperature (°C) of the frames that one was taken among; null where none was measured. */
export function groupTempC(db: Readable, frame: Frame): number | null {
  const { camera, filter, target, exposureS, setTempC, gain } = frame
  const sorted = temps.all(db, ...placeOf(frame), camera, filter, target, exposureS, setTempC, gain)
  if (sorted.length === 0) return null
  const middle = sorted.length >> 1
  return sorted.length % 2 ? sorted[middle].tempC : (sorted[middle - 1].tempC + sorted[middle].tempC) / 2
}

const sizes = query<{ bytes: number; frames: number }, [string]>(
  'SELECT coalesce(sum(size), 0) AS bytes, count(*) AS frames FROM frames WHERE night = ?',
)
/** Bytes on disk and number of frames of a night. */
export const sizeOfNight = (db: Readable, night: string) => sizes.one(db, night)!

const newest = query<{ night: string }>('SELECT night FROM frames ORDER BY night DESC LIMIT 1')
export const newestNight = (db: Readable): string | null => newest.one(db)?.night ?? null

const has = query<{ found: number }, [string]>('SELECT EXISTS (SELECT 1 FROM frames WHERE night = ?) AS found')
export const hasFrames = (db: Readable, night: string): boolean => has.one(db, night)?.found === 1

/** One night in the list of nights; lights that stand aside are no lights here. */
export interface NightSum {
  night: string
  lights: number
  lightS: number
  frames: number
}
const sums = query<NightSum, [string, number]>(
  `SELECT night, count(*) AS frames, sum(kind = 'light' AND aside = 0) AS lights,
          coalesce(sum(exposure_s) FILTER (WHERE kind = 'light' AND aside = 0), 0) AS lightS
     FROM frames WHERE night < ? GROUP BY night ORDER BY night DESC LIMIT ?`,
)
/** The newest nights before a date, newest first: a long list is read piece by piece. */
export const nightSumsBefore = (db: Readable, before: string, limit: number): NightSum[] => sums.all(db, before, limit)

const waits = "measured_at IS NULL AND state = 'ok'"
const unmeasured = query<{ n: number }, [string]>(`SELECT count(*) AS n FROM frames WHERE ${waits} AND night = ?`)
/** Frames of a night that the second lane has not reached. */
export const unmeasuredOfNight = (db: Readable, night: string): number => unmeasured.one(db, night)?.n ?? 0

const nightBefore = query<{ night: string | null }, [string]>(
  `SELECT max(night) AS night FROM frames INDEXED BY frames_to_measure WHERE ${waits} AND night < ?`,
)
/** The newest night before this one with frames that the second lane has not reached. */
export const nightToMeasure = (db: Readable, before: string): string | null =>
  nightBefore.one(db, before)?.night ?? null

const toMeasure = query<{ id: number; path: string }, [string, number, number]>(
  `SELECT id, path FROM frames INDEXED BY frames_to_measure WHERE ${waits} AND night = ? AND id < ? ORDER BY id DESC LIMIT ?`,
)
/** What waits for the second lane of a night, the newest first, with ids below one. */
export const toMeasureOfNight = (db: Readable, night: string, below: number, limit: number) =>
  toMeasure.all(db, night, below, limit)

const lacksMeasuring = query<{ n: number }, [number]>(
  'SELECT count(*) AS n FROM frames WHERE id = ? AND measured_at IS NULL',
)
/** Whether the second lane has not reached this frame. */
export const isUnmeasured = (db: Readable, id: number): boolean => lacksMeasuring.one(db, id)!.n > 0

const markMeasured = command<[string | null, number]>('UPDATE frames SET measured_at = ? WHERE id = ?')
/** @param at null sends the frame back to be measured */
export const setMeasured = (db: Writable, id: number, at: string | null): void => void markMeasured(db, at, id)

const idsOfNight = query<{ id: number }, [string]>('SELECT id FROM frames WHERE night = ? ORDER BY id')
export const frameIdsOfNight = (db: Readable, night: string): number[] => idsOfNight.all(db, night).map((row) => row.id)

const total = query<{ n: number }>('SELECT count(*) AS n FROM frames')
export const countFrames = (db: Readable): number => total.one(db)?.n ?? 0

const silence = query<Record<string, number>, [string]>(
  `SELECT count(*) AS frames, count(gain) AS gain, count("offset") AS "offset", count(filter) AS filter,
          count(coalesce(sensor_temp_c, set_temp_c)) AS sensorTempC
     FROM (SELECT gain, "offset", filter, sensor_temp_c, set_temp_c FROM frames
            WHERE dark_key IN (
              SELECT match_keys.id FROM match_keys, (SELECT ? AS start) AS wanted
               WHERE substr(match_keys.text, 1, length(wanted.start)) = wanted.start)
              AND kind IN ('light', 'flat') LIMIT 1000)`,
)
/**
 * Fields that the lights and flats of a camera never have, of those that its masters would need (a driver that never writes
 * OFFSET); none where nothing of that camera is logged. Looks at a thousand frames at most.
 * @param keyStart beginning of the `darkKey` of its frames
 */
export function silentFields(db: Readable, keyStart: string): string[] {
  const row = silence.one(db, keyStart)!
  return row.frames === 0 ? [] : ['gain', 'offset', 'filter', 'sensorTempC'].filter((field) => row[field] === 0)
}
