/**
 * The words that both sides know, in the one spelling used in code, database, JSON and (through `labels.ts`) on screens.
 * This folder is a leaf: everybody may import it, it imports nothing of the project.
 */

export const KINDS = ['light', 'dark', 'darkFlat', 'flat', 'bias', 'unknown'] as const
export type Kind = (typeof KINDS)[number]

/** Kinds of which a master can exist. */
export const MASTER_KINDS = ['dark', 'darkFlat', 'flat', 'bias'] as const
export type MasterKind = (typeof MASTER_KINDS)[number]

/** The kinds of master that a frame can need: a light a dark and a flat, a flat its dark flat. */
export const NEEDS = ['dark', 'flat', 'darkFlat'] as const
export type Need = (typeof NEEDS)[number]

/** From best to worst: a run's verdict is the last of its frames' in this order. */
export const VERDICTS = ['matched', 'near', 'unconfirmed', 'due', 'missing', 'lost'] as const
export type VerdictWord = (typeof VERDICTS)[number]

/** Why a person sets a frame aside. */
export const ASIDE_REASONS = ['focus', 'pointing', 'trial', 'culled'] as const
export type AsideReason = (typeof ASIDE_REASONS)[number]

/** Urgency of a shortfall row and severity of a notice, most urgent first. */
export const URGENCIES = ['actNow', 'beforeTeardown', 'anyTime', 'note'] as const
export type Urgency = (typeof URGENCIES)[number]

export const FRAME_STATES = ['ok', 'broken', 'incomplete', 'out of reach', 'gone'] as const
export type FrameState = (typeof FRAME_STATES)[number]

export const MASTER_STATES = ['ready', 'retired', 'damaged'] as const
export type MasterState = (typeof MASTER_STATES)[number]

/** What lit a flat. */
export const LIGHT_SOURCES = ['panel', 'sky', 'screen', 'other'] as const
export type LightSource = (typeof LIGHT_SOURCES)[number]

/** What a train change touched: one filter's flats, all flats, or flats and hot-pixel evidence. */
export const SCOPES = ['filter', 'train', 'camera'] as const
export type Scope = (typeof SCOPES)[number]

/** The rules that open notices; each is described in DEVELOPERS.md. */
export const RULES = [
  'no-dark',
  'no-flat',
  'no-dark-flat',
  'near-match',
  'flat-aging',
  'dark-aging',
  'flat-lost',
  'flat-level',
  'flat-short',
  'flat-clipped',
  'flat-balance',
  'flat-drift',
  'warm',
  'settings-changed',
  'bias-unwanted',
  'pedestal-low',
  'frame-broken',
  'watch-lost',
  'watch-stalled',
  'disk-low',
  'master-damaged',
] as const
export type RuleName = (typeof RULES)[number]

/** What can be fetched of a frame or a master, as the last part of its address; see `files.ts`. */
export const FILE_VIEWS = ['pixels', 'thumbnail.png', 'map.png', 'before.png', 'after.png'] as const
