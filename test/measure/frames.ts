import { writeFileSync } from 'node:fs'
import { encodeFits, type NewCard, type WritableSamples } from '../../main/fits/index.ts'

/** Writes a frame for a test; `bitpix` 16 takes unsigned values. */
export function writeFrame(path: string, width: number, image: WritableSamples, cards: NewCard[] = []): void {
  const bitpix = image instanceof Float32Array ? -32 : image instanceof Uint8Array ? 8 : 16
  const unsigned = image instanceof Uint16Array
  writeFileSync(path, encodeFits({ width, height: image.length / width, bitpix, unsigned, cards, image }))
}
