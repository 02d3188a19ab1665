import { Refusal, UNIT_ADU } from '../contract/index.ts'
import { openImage } from '../fits/index.ts'
import { atFile } from '../measure/crew-member.ts'
import type { Plane } from './block-map.ts'

/** A frame whose pixels are float32: two arrays of one type keep the inner loops fast. */
export interface FloatPlane extends Plane {
  data: Float32Array<ArrayBuffer>
}

const STRIP_ROWS = 64

/** One file to be read. */
export interface PlaneFile {
  path: string
  /** Values from 0 to 1 become ADU of 16 bits. */
  unit?: boolean
}

/**
 * Reads a whole frame or master, ADU, undefined pixels as NaN.
 * @param cfa whether a 2 × 2 colour filter array lies over it
 * @param spare memory to be used again, where a piece of it has the size of the frame: it is taken from the list
 * @throws AtFile with what the file did; Refusal for a picture of several planes
 */
export function readPlane(
  { path, unit = false }: PlaneFile,
  cfa: boolean,
  spare: FloatPlane['data'][] = [],
): FloatPlane {
  return atFile(path, () => {
    using image = openImage(path)
    if (image.planes !== 1)
      throw new Refusal(`${path} holds ${image.planes} planes: name a raw frame, as the camera wrote it.`)
    const { width, height } = image
    const at = spare.findIndex((one) => one.length === width * height)
    const data = at < 0 ? new Float32Array(width * height) : spare.splice(at, 1)[0]
    // In strips: what is read stays in the processor's cache until it is turned into numbers.
    for (let y = 0; y < height; y += STRIP_ROWS) {
      const rows = Math.min(STRIP_ROWS, height - y)
      image.readRows(y, rows, data.subarray(y * width, (y + rows) * width))
    }
    if (unit) for (let i = 0; i < data.length; i++) data[i] *= UNIT_ADU
    return { data, width, height, cfa }
  })
}

/**
 * Takes a dark flat off a flat, in the flat's own memory.
 * @throws RangeError for unequal sizes
 */
export function subtractPlane(flat: FloatPlane, dark: FloatPlane): FloatPlane {
  if (flat.width !== dark.width || flat.height !== dark.height)
    throw new RangeError(
      `The flat is ${flat.width} × ${flat.height} px and its dark flat ${dark.width} × ${dark.height} px: they must be of one size.`,
    )
  const [a, b] = [flat.data, dark.data]
  for (let i = 0; i < a.length; i++) a[i] -= b[i]
  return flat
}
