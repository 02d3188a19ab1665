// A stand-in for the engine process that speaks its protocol and nothing else: hosts are tested without a database.
// Its data folder's name says how it behaves: "refuses" cannot open, "dies" ends on its first request.
import { appendFileSync, existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'

const dataDir = process.argv[2]
const port = process.parentPort ?? {
  on: (name, listener) => process.on(name, (data) => listener({ data })),
  postMessage: (message) => process.send(message),
}
const watched = []

const told = join(dataDir, 'tonight.json')

const handlers = {
  tonight: () => (existsSync(told) ? JSON.parse(readFileSync(told, 'utf8')) : { runs: [], notices: [], shortfall: [] }),
  nights: () => ({ nights: [{ night: '2026-11-20', lights: 3, lightS: 900, frames: process.pid }] }),
  folders: () => ({ folders: watched }),
  watchFolder: ({ path, polling = false }) => {
    if (path.endsWith('missing')) return { refused: `There is no folder ${path}.` }
    watched.push({ id: watched.length + 1, path, rig: null, reachable: true, frames: 0, polling })
    port.postMessage({ event: { event: 'changed', what: ['folders'] } })
    return { folder: watched.at(-1) }
  },
  unwatchFolder: () => {
    port.postMessage({ event: { event: 'changed', what: ['night'] } })
    return {}
  },
  file: ({ id, view }) =>
    id === 1
      ? { path: join(dataDir, 'one.fits'), type: view === 'pixels' ? 'application/fits' : 'image/png' }
      : { refused: 'There is no such frame.' },
  place: ({ of, id }) => (id === 1 ? { path: join(dataDir, `${of}.fits`) } : { refused: `There is no ${of} ${id}.` }),
  writeNightLog: ({ night, path }) =>
    path.startsWith('/frames/') ? { refused: `${path} lies in /frames.` } : { path, night, frames: 3 },
  library: () => ({ failed: 'TypeError: masters is undefined' }),
  verifyLibrary: () => null,
  retireMaster: () => process.kill(process.pid, 'SIGKILL'),
  wake: () => {
    appendFileSync(join(dataDir, 'engine.log'), 'woken\n')
    return {}
  },
  shutDown: () => {
    appendFileSync(join(dataDir, 'engine.log'), 'closed\n')
    setTimeout(() => process.exit(0), 10)
    return {}
  },
}

if (dataDir.includes('refuses')) {
  port.postMessage({ id: 0, refused: 'This database was written by a newer Nightshelf: install that one.' })
  setTimeout(() => process.exit(1), 20)
} else {
  process.on('SIGINT', () => {}).on('SIGTERM', () => {})
  process.on('disconnect', () => process.exit(0))
  port.on('message', ({ data: { id, request, input } }) => {
    const answer = handlers[request]?.(input) ?? null
    // `null` never answers: a request that is pending when the engine dies.
    if (answer === null || answer === true) return
    port.postMessage('refused' in answer || 'failed' in answer ? { id, ...answer } : { id, answer })
  })
  setTimeout(() => port.postMessage({ event: { event: 'engine', state: 'ready' } }), 50)
}
