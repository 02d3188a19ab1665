import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { Refusal } from '../../main/contract/index.ts'
import { writeWhole, type Manner } from '../../main/demo/file-writer.ts'

const dir = mkdtempSync(join(tmpdir(), 'nightshelf-writer-'))
afterAll(() => rmSync(dir, { recursive: true }))

const bytes = Uint8Array.from({ length: 6000 }, (_, i) => i % 251)
const never = new AbortController().signal
const options = (manner: Manner, lastsMs: number, signal = never) => ({ manner, lastsMs, modifiedAtMs: null, signal })

describe('writing as capture software does', () => {
  it('in place grows under its own name, and renamed is not seen before it is whole', async () => {
    for (const manner of ['in place', 'renamed'] as const) {
      const path = join(dir, `${manner}.fits`)
      const sizes = new Set<number>()
      const look = setInterval(() => sizes.add(statSync(path, { throwIfNoEntry: false })?.size ?? -1), 2)
      await writeWhole(path, bytes, options(manner, 150))
      clearInterval(look)
      const partly = [...sizes].filter((size) => size > 0 && size < bytes.length)
      if (manner === 'in place') expect(partly.length).toBeGreaterThan(1)
      else expect(partly).toEqual([])
      expect(new Uint8Array(readFileSync(path))).toEqual(bytes)
    }
  })

  it('stopped midway leaves nothing under either name', async () => {
    for (const manner of ['in place', 'renamed'] as const) {
      const stop = new AbortController()
      setTimeout(() => stop.abort(), 40)
      await expect(writeWhole(join(dir, 'stopped.fits'), bytes, options(manner, 400, stop.signal))).rejects.toThrow()
      expect(readdirSync(dir).filter((name) => name.startsWith('stopped'))).toEqual([])
    }
  })

  it('replaces a link instead of writing through it', async () => {
    const precious = join(dir, 'precious')
    writeFileSync(precious, 'mine')
    symlinkSync(precious, join(dir, 'link.fits'))
    await writeWhole(join(dir, 'link.fits'), bytes, options('in place', 0))
    expect(readFileSync(precious, 'utf8')).toBe('mine')
    expect(statSync(join(dir, 'link.fits')).size).toBe(bytes.length)
  })

  it('refuses in a sentence where the disk does not take it', async () => {
    const nowhere = writeWhole(join(dir, 'no', 'such', 'x.fits'), bytes, options('renamed', 0))
    await expect(nowhere).rejects.toThrow(Refusal)
    await expect(nowhere).rejects.toThrow(/cannot be written \(ENOENT\)/)
  })
})
