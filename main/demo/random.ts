/**
 * Seeded random numbers, the same on every machine: a small fast counting generator (sfc32, C. Doty-Humphrey's PractRand,
 * public domain; constants from memory) with Gaussian values by the ziggurat method (Marsaglia and Tsang 2000, J. Stat.
 * Software 5(8); index and value are taken from different bits, which their version did not do) and Poisson values.
 *
 * Every frame draws from a stream of its own, named by what it is, so that one frame can be made again without the others.
 */

const BLOCK = 1024

export class Random {
  #state: [number, number, number, number]
  #block = new Uint32Array(BLOCK)
  #next = BLOCK

  /** @param seed any integer; `labels` name the stream: the same seed and labels give the same numbers. */
  constructor(seed: number, ...labels: (string | number)[]) {
    const hash = hasher(`${seed}/${labels.join('/')}`)
    this.#state = [hash(), hash(), hash(), 1]
    // The first numbers still show the seed: a block is thrown away.
    this.#fill()
    this.#next = BLOCK
  }

  /** An integer of 0 … 2³² − 1. */
  uint32(): number {
    if (this.#next === BLOCK) this.#fill()
    return this.#block[this.#next++]
  }

  /** 0 ≤ value < 1. */
  uniform(): number {
    return this.uint32() * 2 ** -32
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.uniform()
  }

  /** Mean 0, standard deviation 1. */
  gaussian(): number {
    for (;;) {
      const bits = this.uint32()
      const layer = bits & 127
      // 24 bits and a sign, none of which chose the layer.
      const value = (bits >> 8) * (widths[layer] * 2 ** -23)
      if (Math.abs(value) < widths[layer + 1]) return value
      if (layer === 0) return this.#tail(value < 0)
      const height = heights[layer] + (heights[layer + 1] - heights[layer]) * this.uniform()
      if (height < Math.exp(-0.5 * value * value)) return value
    }
  }

  /** Whole events of mean `mean`; by inversion, so for means up to about 30. */
  poisson(mean: number): number {
    let probability = Math.exp(-mean)
    let left = this.uniform() - probability
    let count = 0
    while (left >= 0 && count < 200) {
      probability *= mean / ++count
      left -= probability
    }
    return count
  }

  /** Beyond the lowest layer's edge (Marsaglia 1964). */
  #tail(negative: boolean): number {
    for (;;) {
      const x = -Math.log(1 - this.uniform()) / EDGE
      const y = -Math.log(1 - this.uniform())
      if (y + y > x * x) return negative ? -(EDGE + x) : EDGE + x
    }
  }

  #fill(): void {
    let [a, b, c, counter] = this.#state
    const block = this.#block
    for (let i = 0; i < BLOCK; i++) {
      const sum = (a + b + counter) | 0
      counter = (counter + 1) | 0
      a = b ^ (b >>> 9)
      b = (c + (c << 3)) | 0
      c = (((c << 21) | (c >>> 11)) + sum) | 0
      block[i] = sum
    }
    this.#state = [a, b, c, counter]
    this.#next = 0
  }
}

/** Right edge of the lowest layer, and area of each of 128 layers (Marsaglia and Tsang's published values). */
const EDGE = 3.442619855899
const AREA = 9.91256303526217e-3
const { widths, heights } = layers()

/** Layer i lies between heights[i] and heights[i + 1] and reaches to widths[i]; the lowest one stands for the tail too. */
function layers() {
  const density = (x: number) => Math.exp(-0.5 * x * x)
  const widths = new Float64Array(129)
  const heights = new Float64Array(129)
  widths[0] = AREA / density(EDGE)
  widths[1] = EDGE
  for (let i = 2; i < 128; i++) widths[i] = Math.sqrt(-2 * Math.log(AREA / widths[i - 1] + density(widths[i - 1])))
  for (let i = 1; i < 129; i++) heights[i] = density(widths[i])
  return { widths, heights }
}

/** Turns text into as many well-mixed 32-bit numbers as wanted. */
function hasher(text: string): () => number {
  let hash = 0x811c9dc5
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193)
  return () => {
    hash = (hash + 0x9e3779b9) | 0
    let mixed = Math.imul(hash ^ (hash >>> 16), 0x21f0aaad)
    mixed = Math.imul(mixed ^ (mixed >>> 15), 0x735a2d97)
    return mixed ^ (mixed >>> 15)
  }
}
