import { encodePng } from '../measure/png.ts'
import { createPicture, encodePicture, fillRow, shrinkFactor, type SmallPicture } from '../measure/thumbnail.ts'
import type { BackgroundMap } from './background.ts'
import type { BlockMap, Plane } from './block-map.ts'

/** Deviation that is shown as white (or black) in the map of a check flat: twice what may pass anywhere. */
const MAP_SPAN = 0.02
/** Width of the pictures of a proof, pixels: two of them side by side fill a screen. */
const PROOF_WIDTH = 1000

/** The changes of a flat, one grey pixel a block: mid-grey is no change, black 2 % darker, white 2 % brighter. */
export const mapPicture = ({ deviation, columns, rows }: BlockMap): Uint8Array =>
  greyMap(deviation, columns, rows, MAP_SPAN)

/** The changes of a dark in the same manner, black and white one noise of a fresh pixel away. */
export const darkMapPicture = ({ value, columns, rows }: BackgroundMap, noiseAdu: number): Uint8Array =>
  greyMap(value, columns, rows, noiseAdu)

function greyMap(changes: Float64Array, columns: number, rows: number, span: number): Uint8Array {
  const grey = Uint8Array.from(changes, (d) =>
    Number.isFinite(d) ? Math.max(0, Math.min(255, Math.round(128 + (127 * d) / span))) : 128,
  )
  return encodePng(columns, rows, 1, grey)
}

/**
 * A light before and after calibration under one stretch: the same span of ADU from black to white, each with its own sky at
 * the same brightness, so that what differs between the two pictures differs in the frames.
 * @param letters colour filter array ("RGGB"), null for mono
 */
export function proofPictures(
  before: Plane,
  after: Plane,
  letters: string | null,
): { before: Uint8Array; after: Uint8Array } {
  const [raw, calibrated] = [shrink(before, letters), shrink(after, letters)]
  const shown = spread(calibrated.values)
  const rawMedian = spread(raw.values).median
  const stretch = (median: number) => {
    const dark = median - (shown.median - shown.dark)
    return { dark, bright: dark + (shown.bright - shown.dark), figures: { median } }
  }
  return { before: encodePicture(raw, stretch(rawMedian)), after: encodePicture(calibrated, stretch(shown.median)) }
}

function shrink(frame: Plane, cfa: string | null): SmallPicture {
  const shape = { width: frame.width, height: frame.height, cfa }
  const factor = shrinkFactor(shape, PROOF_WIDTH)
  const picture = createPicture(shape, factor)
  const sums = [new Float64Array(frame.width), new Float64Array(frame.width)] as const
  for (let row = 0; row < picture.height; row++) {
    const rows: [number, number] = [0, 0]
    for (const sum of sums) sum.fill(0)
    for (let y = row * factor; y < (row + 1) * factor; y++) {
      // A picture of every other pair of rows looks the same and takes half the time.
      if (factor >= 4 && y & 2) continue
      rows[y & 1]++
      addRow(frame, y, sums[y & 1])
    }
    fillRow(picture, row, factor, sums, rows, 0, cfa)
  }
  return picture
}

function addRow({ data, width }: Plane, y: number, sum: Float64Array): void {
  for (let x = 0, i = y * width; x < width; x++, i++) {
    const value = data[i]
    if (value === value) sum[x] += value
  }
}

/** The levels between which a picture is shown, as `encodePicture` wants them. */
function spread(values: Float32Array) {
  const step = Math.max(1, Math.floor(values.length / 100_000)) | 1
  const sample = new Float32Array(Math.ceil(values.length / step))
  for (let i = 0; i < sample.length; i++) sample[i] = values[i * step]
  sample.sort()
  const at = (part: number) => sample[Math.min(sample.length - 1, Math.floor(part * sample.length))]
  return { dark: at(0.005), bright: at(0.998), median: at(0.5) }
}
