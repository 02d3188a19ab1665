import { finiteCopy, selectSmallest } from '../measure/select.ts'
import { createPicture, encodePicture, shrinkFactor, shrinkValues } from '../measure/thumbnail.ts'
import type { Picture } from './figures.ts'

/** A small PNG of a master, brightened as frames are; levels from every 16th pixel, which is exact enough for the eye. */
export function pictureOf(picture: Picture): Uint8Array {
  const { pixels, width, height, cfa } = picture
  const factor = shrinkFactor({ width, height, cfa })
  const small = createPicture({ width, height, cfa }, factor)
  shrinkValues(pixels, width, factor, small, cfa)
  const every = pixels.length > 1 << 20 ? 16 : 1
  const sample = finiteCopy(
    Float32Array.from({ length: Math.ceil(pixels.length / every) }, (_, i) => pixels[i * every]),
  )
  if (sample.length === 0) return encodePicture(small, { dark: 0, bright: 1, figures: { median: 0 } })
  const at = (share: number) => selectSmallest(sample, Math.floor(share * (sample.length - 1)))
  return encodePicture(small, { dark: at(0.005), bright: at(0.998), figures: { median: at(0.5) } })
}
