/** What each fuse of a packaged program should be, in the order in which Electron's file has them. */
export const hardenedFuses = {
  /** The program is no Node to anybody. */
  runAsNode: false,
  cookieEncryption: true,
  nodeOptionsEnvironmentVariable: false,
  nodeCliInspectArguments: false,
  embeddedAsarIntegrityValidation: true,
  onlyLoadAppFromAsar: true,
  loadBrowserProcessSpecificV8Snapshot: false,
  /** Our page has a scheme of its own: `file:` needs no more power than in a browser. */
  grantFileProtocolExtraPrivileges: false,
  wasmTrapHandlers: true,
} as const

type FuseName = keyof typeof hardenedFuses

/** Stands before the fuses in the program's file; see "Electron Fuses" in Electron's documentation. */
const SENTINEL = Buffer.from('dL7pKGdnNz796PbbjQWNKmHXBZaB9tsX')

const NO_FUSES = 'This file has no fuses: it is no Electron program.'

/**
 * The fuses of a built Electron program, read from its bytes: after the sentinel a version, a count, and one character
 * each, '1' for on, '0' for off, 'r' for removed.
 * @throws Error if the file has no fuses or they are of another version
 */
export function readFuses(program: Buffer): Partial<Record<FuseName, boolean>> {
  const at = program.indexOf(SENTINEL)
  if (at < 0) throw new Error(NO_FUSES)
  const [version, count] = program.subarray(at + SENTINEL.length, at + SENTINEL.length + 2)
  if (version !== 1) throw new Error(`The fuses are of version ${version}, and only version 1 is known.`)
  const wire = program.subarray(at + SENTINEL.length + 2, at + SENTINEL.length + 2 + count).toString('latin1')
  const names = Object.keys(hardenedFuses) as FuseName[]
  return Object.fromEntries([...wire].map((state, i) => [names[i] ?? `fuse ${i}`, state === '1']))
}

/**
 * Sets one fuse in a program's bytes, wherever they have fuses: a program for two processors has them twice.
 * @returns the same buffer
 * @throws Error if it has none, or not that one
 */
export function setFuse(program: Buffer, name: FuseName, on: boolean): Buffer {
  const index = Object.keys(hardenedFuses).indexOf(name)
  let found = 0
  for (let at = program.indexOf(SENTINEL); at >= 0; at = program.indexOf(SENTINEL, at + 1)) {
    const wire = at + SENTINEL.length
    if (program[wire + 1] <= index) throw new Error(`This program has no fuse "${name}".`)
    program[wire + 2 + index] = (on ? '1' : '0').charCodeAt(0)
    found++
  }
  if (found === 0) throw new Error(NO_FUSES)
  return program
}
