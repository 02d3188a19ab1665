import { openImage } from '../fits/image.ts'
import { stepOf } from './histogram.ts'
import { BINS } from './tally.ts'

/** Pixels in the middle of a frame that tell its steps: of real data far fewer would. */
const SAMPLE_PIXELS = 200_000

/**
 * Smallest difference between two levels of a 16-bit frame, ADU: 1, or 4 and 16 for 14- and 12-bit data shifted up; 1 for other
 * integers and where all pixels are equal, 0 for floats.
 * @throws FitsError
 */
export function levelStep(path: string): number {
  using image = openImage(path)
  if (image.bitpix < 0) return 0
  if (image.bitpix !== 16) return 1
  const rows = Math.min(image.height, Math.ceil(SAMPLE_PIXELS / image.width))
  const words = Buffer.alloc(rows * image.bytesPerRow)
  image.readStoredRows(Math.floor((image.height - rows) / 2), rows, words)
  const histogram = new Uint32Array(BINS)
  for (let at = 0; at < words.length; at += 2) histogram[words.readUInt16BE(at) ^ 0x8000]++
  return (stepOf(histogram) || 1) * Math.abs(image.scaling.bscale)
}
