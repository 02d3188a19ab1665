import { readFitsInfo } from '../fits/file.ts'
import { encodeFits } from '../fits/write.ts'
import { frameCards } from './header.ts'
import { masterCards, masterPixels, type ShelfMaster } from './library.ts'
import type { PlannedFrame } from './plan.ts'
import type { Studio } from './studio.ts'

/** The bytes of a raw frame's file, or of as much of it as came to be written. */
export function encodeFrame(studio: Studio, frame: PlannedFrame): Uint8Array {
  const { sensor, train } = studio
  const bytes = encodeFits({
    width: sensor.width,
    height: sensor.height,
    bitpix: 16,
    unsigned: true,
    cards: frameCards(sensor, train, frame),
    image: studio.take(frame),
    // Capture programs do not sum: whether a raw frame is whole must be seen without.
    checksum: false,
  })
  return frame.writtenFraction === null ? bytes : bytes.subarray(0, cutAt(bytes.length, frame.writtenFraction))
}

export function encodeMaster(studio: Studio, master: ShelfMaster, night: string): Uint8Array {
  const { width, height } = studio.sensor
  const cards = masterCards(studio, master, night)
  const image = masterPixels(studio, master)
  if (image instanceof Uint16Array) return encodeFits({ width, height, bitpix: 16, unsigned: true, cards, image })
  return encodeFits({ width, height, bitpix: -32, cards, image })
}

/** True where the file stands as it should: whole, or cut off where the night's plan cuts it off. */
export function isThere(path: string, writtenFraction: number | null): boolean {
  try {
    const { expectedLength, fileSize } = readFitsInfo(path)
    return fileSize === (writtenFraction === null ? expectedLength : cutAt(expectedLength, writtenFraction))
  } catch {
    return false
  }
}

const cutAt = (length: number, fraction: number) => Math.floor(length * fraction)
