import { closeSync, fsyncSync, lstatSync, openSync, readdirSync, renameSync, rmSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { Refusal } from '../contract/index.ts'
import { describingCards, openFitsWriter, readFitsInfo, type Header, type NewCard } from '../fits/index.ts'

/** A calibrated light as it is written. */
export interface ProofFile {
  out: string
  width: number
  height: number
  pixels: Float32Array
  /** Of the light: carried over, but for what describes its stored numbers. */
  header: Header
  program: string
  /** UTC. */
  madeAt: string
  /** Sentences: which masters were used, and how. */
  history: string[]
}

/** Keywords that speak of the raw file's numbers, and of a proof's own. */
const NOT_CARRIED = /^(DATAMIN|DATAMAX|BUNIT|DATE|PROOF|PEDESTAL|SWMODIFY)$/

/**
 * Writes a proof: float32, a temporary file beside it, synced, then renamed, so that there is a whole file or none.
 * @throws Refusal where something stands under that name that no proof wrote, or the disk refuses
 */
export function writeProof(file: ProofFile): void {
  const { out, width, height, pixels } = file
  refuseToOverwrite(out)
  const folder = dirname(out)
  const temporary = join(folder, `.${process.pid}-${Math.random().toString(36).slice(2, 10)}.proof-part`)
  try {
    sweepParts(folder)
    const fd = openSync(temporary, 'wx')
    try {
      const writer = openFitsWriter(fd, { width, height, bitpix: -32, cards: cardsOf(file) })
      writer.writeRows(pixels)
      writer.finish()
      fsyncSync(fd)
    } finally {
      closeSync(fd)
    }
    renameSync(temporary, out)
    syncFolder(folder)
  } catch (error) {
    throw sayWriting(error, out)
  } finally {
    try {
      rmSync(temporary, { force: true })
    } catch {
      // What stood in the way of writing stands in the way of this too, and is told already.
    }
  }
}

/** @throws Refusal unless there is nothing under that name, or an earlier proof */
export function refuseToOverwrite(out: string): void {
  const there = lstatSync(out, { throwIfNoEntry: false })
  if (!there) return
  if (there.isDirectory()) throw new Refusal(`${out} is a folder: name a file for the proof.`)
  if (there.isSymbolicLink() || !isProof(out))
    throw new Refusal(`${out} is there already and was not written as a proof: name another file.`)
}

function isProof(path: string): boolean {
  try {
    return readFitsInfo(path).header.value('PROOF') === true
  } catch {
    return false
  }
}

function cardsOf({ header, program, madeAt, history }: ProofFile): NewCard[] {
  const carried = describingCards(header.cards as readonly NewCard[]).filter(isSound)
  return [
    ...carried,
    { keyword: 'BUNIT', value: 'adu' },
    { keyword: 'DATE', value: madeAt.replace(/Z$/, ''), comment: 'when this file was made, UTC' },
    { keyword: 'PROOF', value: true, comment: 'calibrated to be looked at' },
    { keyword: 'SWMODIFY', value: program },
    ...history.flatMap(wrap).map((value) => ({ keyword: 'HISTORY', value })),
  ]
}

/** Records that no standard reader understands are left behind: a proof is to be clean whatever the camera program wrote. */
const isSound = ({ keyword, form }: NewCard) =>
  form !== 'malformed' &&
  !NOT_CARRIED.test(keyword.toUpperCase()) &&
  (form !== 'text' || /^(COMMENT|HISTORY|)$/.test(keyword)) &&
  /^[A-Z0-9_-]{0,8}$/.test(keyword)

/** HISTORY has room for 72 characters; words are not cut. */
const wrap = (text: string): string[] => (text.match(/\S.{0,69}(?=\s|$)|\S{70}/g) ?? []).map((line) => line.trimEnd())

/** Temporary files of a process that was killed in the middle of writing. */
function sweepParts(folder: string): void {
  for (const name of readdirSync(folder)) {
    const pid = /^\.(\d+)-\w+\.proof-part$/.exec(name)?.[1]
    if (pid && !isAlive(Number(pid))) rmSync(join(folder, name), { force: true })
  }
}

function isAlive(pid: number): boolean {
  if (pid === process.pid) return true
  try {
    return process.kill(pid, 0)
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM'
  }
}

/** The rename is safe on disk when its folder is; Windows has no such call and needs none. */
function syncFolder(path: string): void {
  if (process.platform === 'win32') return
  const fd = openSync(path, 'r')
  try {
    fsyncSync(fd)
  } finally {
    closeSync(fd)
  }
}

const SENTENCES: Record<string, (out: string) => string> = {
  ENOENT: (out) => `The folder of ${out} is not there: make it first, or name another one.`,
  ENOTDIR: (out) => `The folder of ${out} is not there: make it first, or name another one.`,
  ENOSPC: (out) => `The disk of ${out} is full: make room, or write the proof elsewhere.`,
  EDQUOT: (out) => `The disk quota is used up: make room for ${out}, or write the proof elsewhere.`,
  EROFS: (out) => `The disk of ${out} is read-only: write the proof elsewhere.`,
  EACCES: (out) => `${out} may not be written: give your account the right to, or write the proof elsewhere.`,
  EPERM: (out) => `${out} may not be written: give your account the right to, or write the proof elsewhere.`,
}

function sayWriting(error: unknown, out: string): unknown {
  const { code } = error as NodeJS.ErrnoException
  if (error instanceof Refusal || typeof code !== 'string') return error
  const say = SENTENCES[code]
  return new Refusal(say ? say(out) : `${out} cannot be written (${code}): check the disk or the connection to it.`)
}
