import type { Plane } from './block-map.ts'

/**
 * (light − dark) / (flat / mean of flat), each colour cell by its own mean of the flat (so colours stay as they were).
 *
 * Computed in float64, stored as float32; nothing is clipped: pixels below zero are a fact about noise, not a fault.
 * Where the flat is not above zero the result is NaN.
 * @param light raw light, ADU
 * @param dark dark master, ADU
 * @param flat flat master (dark flat already subtracted), ADU
 * @param out as many pixels as the light; may be the light's or the dark's own memory
 */
export function calibrate(
  light: Plane,
  dark: Plane,
  flat: Plane,
  out = new Float32Array(light.data.length),
): Float32Array {
  refuseUnequal(light, dark, flat)
  const mean = cellMeans(flat)
  const [l, d, f] = [light.data, dark.data, flat.data]
  const { width, height } = light
  for (let y = 0, i = 0; y < height; y++) {
    const even = mean[(y & 1) << 1]
    const odd = mean[((y & 1) << 1) | 1]
    for (const end = i + width; i < end; i++) {
      const level = f[i]
      out[i] = level > 0 ? (l[i] - d[i]) / (level / ((i - end + width) & 1 ? odd : even)) : NaN
    }
  }
  return out
}

/** Mean of each colour cell; for mono the mean of the frame four times. */
export function cellMeans({ data, width, height, cfa }: Plane): [number, number, number, number] {
  const sums = [0, 0, 0, 0]
  const counts = [0, 0, 0, 0]
  for (let y = 0; y < height; y++)
    for (let side = 0; side < 2; side++) {
      let [sum, count] = [0, 0]
      for (let i = y * width + side, end = (y + 1) * width; i < end; i += 2) {
        const v = data[i]
        if (v !== v) continue
        sum += v
        count++
      }
      const cell = ((y & 1) << 1) | side
      sums[cell] += sum
      counts[cell] += count
    }
  if (cfa) return sums.map((s, k) => s / counts[k]) as [number, number, number, number]
  const mean = sums.reduce((a, b) => a + b) / counts.reduce((a, b) => a + b)
  return [mean, mean, mean, mean]
}

/** @throws RangeError in one sentence unless light and masters are of one size */
export function refuseUnequal(light: Plane, ...masters: Plane[]): void {
  for (const { width, height } of masters)
    if (width !== light.width || height !== light.height)
      throw new RangeError(
        `The light is ${light.width} × ${light.height} px and a master ${width} × ${height} px: they must be of one size.`,
      )
}
