import { coarsened, type BlockMap } from './block-map.ts'

/** A polynomial surface over a block map, x and y from −1 to 1. */
export interface Surface {
  order: number
  coefficients: Float64Array
}

/** Exponents of x and y of each term up to `order`, in a fixed order. */
function terms(order: number): [number, number][] {
  const list: [number, number][] = []
  for (let total = 0; total <= order; total++) for (let j = 0; j <= total; j++) list.push([total - j, j])
  return list
}

const termCache = [0, 1, 2, 3, 4].map(terms)

/** Powers of a position, one per term. */
function basis(order: number, x: number, y: number, out: Float64Array): Float64Array {
  const list = termCache[order]
  const xs = [1, x, x * x, x * x * x, x * x * x * x]
  const ys = [1, y, y * y, y * y * y, y * y * y * y]
  for (let k = 0; k < list.length; k++) out[k] = xs[list[k][0]] * ys[list[k][1]]
  return out
}

/** Where the centre of a block lies on the frame: −1 at its left (upper) edge, 1 at the other. */
const positionOf = (block: number, blockPx: number, sizePx: number) => ((2 * block + 1) * blockPx) / sizePx - 1

/**
 * Least squares surface through the blocks, refitted three times without those that lie more than three robust sigma off,
 * so that a dust shadow does not bend it. A smooth surface needs no fine blocks, so they are merged first.
 * @param order 1 for a plane, up to 4
 */
export function fitSurface(fine: BlockMap, order: number): Surface {
  const map = coarsened(fine, fine.blockNoise / 4)
  const count = termCache[order].length
  let coefficients = new Float64Array(count)
  let limit = Infinity
  const b = new Float64Array(count)
  for (let round = 0; round < 4; round++) {
    const normal = Array.from({ length: count }, () => new Float64Array(count + 1))
    for (let row = 0; row < map.rows; row++)
      for (let column = 0; column < map.columns; column++) {
        const value = map.deviation[row * map.columns + column]
        basis(order, positionOf(column, map.blockPx, map.width), positionOf(row, map.blockPx, map.height), b)
        if (!(Math.abs(value - dot(coefficients, b)) <= limit)) continue
        for (let j = 0; j < count; j++) {
          for (let k = j; k < count; k++) normal[j][k] += b[j] * b[k]
          normal[j][count] += b[j] * value
        }
      }
    coefficients = solveSymmetric(normal)
    const off = subtractSurface(map, { order, coefficients }).deviation.filter(Number.isFinite).map(Math.abs).sort()
    limit = Math.max(3 * 1.4826 * off[off.length >> 1], 1e-12)
  }
  return { order, coefficients }
}

/** The map without the surface. */
export function subtractSurface(map: BlockMap, surface: Surface): BlockMap {
  const b = new Float64Array(surface.coefficients.length)
  const deviation = map.deviation.map((value, i) => {
    const x = positionOf(i % map.columns, map.blockPx, map.width)
    const y = positionOf(Math.floor(i / map.columns), map.blockPx, map.height)
    return value - dot(surface.coefficients, basis(surface.order, x, y, b))
  })
  return { ...map, deviation }
}

/** Largest minus smallest value of a surface over the four corners and the centre. */
export function spanOf(surface: Surface): number {
  const b = new Float64Array(surface.coefficients.length)
  const values = [[-1, -1], [1, -1], [-1, 1], [1, 1], [0, 0]].map(([x, y]) => dot(surface.coefficients, basis(surface.order, x, y, b))) // prettier-ignore
  return Math.max(...values) - Math.min(...values)
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i]
  return sum
}

/** Gaussian elimination on a symmetric positive system given by its upper triangle and right-hand side. */
function solveSymmetric(m: Float64Array[]): Float64Array<ArrayBuffer> {
  const n = m.length
  for (let j = 0; j < n; j++) for (let k = 0; k < j; k++) m[j][k] = m[k][j]
  for (let j = 0; j < n; j++) {
    let pivot = j
    for (let r = j + 1; r < n; r++) if (Math.abs(m[r][j]) > Math.abs(m[pivot][j])) pivot = r
    ;[m[j], m[pivot]] = [m[pivot], m[j]]
    if (m[j][j] === 0) continue
    for (let r = j + 1; r < n; r++) {
      const factor = m[r][j] / m[j][j]
      for (let k = j; k <= n; k++) m[r][k] -= factor * m[j][k]
    }
  }
  const x = new Float64Array(n)
  for (let j = n - 1; j >= 0; j--) {
    let sum = m[j][n]
    for (let k = j + 1; k < n; k++) sum -= m[j][k] * x[k]
    x[j] = m[j][j] === 0 ? 0 : sum / m[j][j]
  }
  return x
}
