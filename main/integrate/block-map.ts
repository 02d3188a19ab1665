import { medianOfValues } from '../measure/select.ts'

/** Medians of square blocks of a picture (the last of a row or column may be cut), row by row. */
export interface BlockMap {
  blockPx: number
  columns: number
  rows: number
  medians: Float32Array
}

/** NaN where a block holds no number. */
export function blockMedians(pixels: Float32Array, width: number, height: number, blockPx: number): BlockMap {
  const columns = Math.ceil(width / blockPx)
  const rows = Math.ceil(height / blockPx)
  const medians = new Float32Array(columns * rows)
  const block = new Float32Array(blockPx * blockPx)
  for (let r = 0; r < rows; r++)
    for (let c = 0; c < columns; c++) {
      let n = 0
      for (let y = r * blockPx; y < Math.min(height, (r + 1) * blockPx); y++)
        for (let at = y * width + c * blockPx; at < y * width + Math.min(width, (c + 1) * blockPx); at++)
          if (Number.isFinite(pixels[at])) block[n++] = pixels[at]
      medians[r * columns + c] = medianOfValues(block.subarray(0, n))
    }
  return { blockPx, columns, rows, medians }
}

/** One row of the map, read between the centres of its blocks (bilinear) and carried on to the edges, so that a gradient leaves no steps. */
export function interpolateRow(map: BlockMap, y: number, out: Float32Array): void {
  const { blockPx, columns, rows, medians } = map
  const at = (y + 0.5) / blockPx - 0.5
  const r = Math.min(Math.max(Math.floor(at), 0), Math.max(0, rows - 2))
  const down = Math.min(r + 1, rows - 1)
  const v = rows > 1 ? at - r : 0
  for (let x = 0; x < out.length; x++) {
    const across = (x + 0.5) / blockPx - 0.5
    const c = Math.min(Math.max(Math.floor(across), 0), Math.max(0, columns - 2))
    const right = Math.min(c + 1, columns - 1)
    const u = columns > 1 ? across - c : 0
    const upper = medians[r * columns + c] * (1 - u) + medians[r * columns + right] * u
    const lower = medians[down * columns + c] * (1 - u) + medians[down * columns + right] * u
    out[x] = upper * (1 - v) + lower * v
  }
}
