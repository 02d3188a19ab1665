import type { FrameFacts } from '../../frame/facts.ts'
import type { FileStat } from '../../watch/stat.ts'
import type { DescribeContext } from './describe-file.ts'
import type { Sighted } from './place.ts'
import type { FileBelow, Sight } from './sight.ts'

/** What a reading thread is asked. */
export interface ReadAsk {
  files: FileBelow[]
  context: DescribeContext
}

const FINGERPRINT_LENGTH = 32

/** What it answers: headers and fingerprints in one piece each, since a thousand small buffers cost more than their bytes. */
export interface ReadAnswer {
  sights: (
    { path: string; reason: string } | { facts: FrameFacts; stat: FileStat; problem: string | null; length: number }
  )[]
  headers: Uint8Array
  fingerprints: Uint8Array
}

export function packSights(sights: Sight[]): ReadAnswer {
  const seen = sights.flatMap((sight) => ('sighted' in sight ? sight.sighted : []))
  const headers = new Uint8Array(seen.reduce((sum, { headerBytes }) => sum + headerBytes.length, 0))
  const fingerprints = new Uint8Array(seen.length * FINGERPRINT_LENGTH)
  let at = 0
  seen.forEach(({ headerBytes, fingerprint }, i) => {
    headers.set(headerBytes, at)
    at += headerBytes.length
    fingerprints.set(fingerprint, i * FINGERPRINT_LENGTH)
  })
  return {
    headers,
    fingerprints,
    sights: sights.map((sight) => {
      if (!('sighted' in sight)) return sight
      const { facts, stat, problem, headerBytes } = sight.sighted
      return { facts, stat, problem, length: headerBytes.length }
    }),
  }
}

export function unpackSights({ sights, headers, fingerprints }: ReadAnswer): Sight[] {
  let at = 0
  let n = 0
  return sights.map((sight) => {
    if ('reason' in sight) return sight
    const { facts, stat, problem, length } = sight
    const fingerprint = Buffer.from(
      fingerprints.buffer,
      fingerprints.byteOffset + n++ * FINGERPRINT_LENGTH,
      FINGERPRINT_LENGTH,
    )
    const sighted: Sighted = {
      path: facts.path,
      facts,
      stat,
      problem,
      fingerprint,
      headerBytes: headers.subarray(at, (at += length)),
    }
    return { sighted }
  })
}
