/** Addresses of the window: what stands after `#`. Bookmarkable, and the same in both hosts. */

export const PLACES = ['tonight', 'shelf', 'flats', 'nights', 'settings'] as const
export type Place = (typeof PLACES)[number]

export type Address =
  | { place: 'tonight'; run?: string }
  | { place: 'glance' }
  | { place: 'shelf'; master: number | null; find: string }
  | { place: 'flats' }
  | { place: 'nights'; night: string | null; find: string }
  | { place: 'settings'; page: 'sensors' | null }
  | { place: 'frame'; id: number }
  | { place: 'view'; of: 'frame' | 'master'; id: number }
  | { place: 'nowhere'; asked: string }

export const placeName: Record<Place, string> = {
  tonight: 'Tonight',
  shelf: 'Shelf',
  flats: 'Flats',
  nights: 'Nights',
  settings: 'Settings',
}

/** Reads `#/shelf/12?find=dark`. An empty address, and one that carries a token, is Tonight's. */
export function parseAddress(hash: string): Address {
  const text = hash.replace(/^#/, '')
  if (text === '' || text === '/' || text.startsWith('t=')) return { place: 'tonight' }
  const [path = '', query = ''] = text.split('?')
  const [, place, item, ...more] = path.split('/')
  const nowhere: Address = { place: 'nowhere', asked: text }
  if (place === 'view') return parseView(item, more) ?? nowhere
  if (more.length) return nowhere
  const id = idOf(item)
  const find = new URLSearchParams(query).get('find') ?? ''
  if (place === 'shelf' && (!item || id)) return { place, master: id, find }
  if (place === 'frame' && id) return { place, id }
  if (place === 'nights' && (!item || /^\d{4}-\d{2}-\d{2}$/.test(item))) return { place, night: item || null, find }
  if (!item && (place === 'glance' || (place === 'tonight' && new URLSearchParams(query).has('glance'))))
    return { place: 'glance' }
  if (!item && place === 'tonight') {
    const run = new URLSearchParams(query).get('run')
    return run ? { place, run } : { place }
  }
  if (!item && place === 'flats') return { place }
  if (place === 'settings' && (!item || item === 'sensors')) return { place, page: item ? 'sensors' : null }
  return nowhere
}

const idOf = (text = '') => (/^[1-9]\d{0,14}$/.test(text) ? Number(text) : null)

function parseView(of: string | undefined, [item, ...more]: string[]): Address | null {
  const id = idOf(item)
  return id && !more.length && (of === 'frame' || of === 'master') ? { place: 'view', of, id } : null
}

/** The same for addresses of one page: a filter being typed does not change the page. */
export function pageOf(address: Address): string {
  if (address.place === 'shelf') return `shelf/${address.master ?? ''}`
  if (address.place === 'nights') return `nights/${address.night ?? ''}`
  if (address.place === 'settings') return `settings/${address.page ?? ''}`
  if (address.place === 'frame') return `frame/${address.id}`
  if (address.place === 'view') return `view/${address.of}/${address.id}`
  return address.place
}

export const toPlace = (place: Place) => `#/${place}`
export const toGlance = '#/glance'
export const toSensors = '#/settings/sensors'
export const toFrame = (id: number) => `#/frame/${id}`
export const toPicture = (of: 'frame' | 'master', id: number) => `#/view/${of}/${id}`
export const toMaster = (id: number) => `#/shelf/${id}`
export const toNight = (night: string) => `#/nights/${night}`
/** A place with words in its search. */
export const toFinding = (words: string, place: 'shelf' | 'nights' = 'shelf') =>
  toPlace(place) + (words ? `?find=${encodeURIComponent(words)}` : '')
