import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createCounter } from '../../../main/measure/kernels/counter.ts'
import { countRows, createTally, neighboursOf } from '../../../main/measure/tally.ts'

/** Puts words into the strip as a file holds them, and counts them as rows from `y` on. */
function countWithKernel(words: Uint16Array, width: number, cfa: string | null, y: number, picture = false) {
  const counter = createCounter(width)
  const rows = words.length / width
  counter.start(neighboursOf(cfa), picture)
  const big = Buffer.alloc(words.length * 2)
  words.forEach((word, i) => big.writeUInt16BE(word ^ 0x8000, i * 2))
  counter.bytes.set(big)
  counter.toBins(rows)
  counter.count(0, rows, y)
  return counter
}

const frames = fc
  .tuple(fc.integer({ min: 1, max: 37 }), fc.integer({ min: 1, max: 9 }), fc.constantFrom(null, 'RGGB', 'GBRG', 'BGGR'))
  .chain(([width, rows, cfa]) =>
    fc.record({
      width: fc.constant(width),
      cfa: fc.constant(cfa),
      y: fc.integer({ min: 0, max: 3 }),
      words: fc.uint16Array({ minLength: width * rows, maxLength: width * rows }),
    }),
  )

describe('the counting kernel', () => {
  it('equals its specification for any width, pattern and first row', () => {
    fc.assert(
      fc.property(frames, ({ width, cfa, y, words }) => {
        const counter = countWithKernel(words, width, cfa, y)
        const tally = createTally()
        countRows(tally, words, width, y, neighboursOf(cfa))
        for (let place = 0; place < 4; place++)
          expect(Buffer.compare(bytes(counter.tally.places[place]), bytes(tally.places[place]))).toBe(0)
        expect(Buffer.compare(bytes(counter.tally.differences), bytes(tally.differences))).toBe(0)
      }),
      { numRuns: 60 },
    )
  })

  it('adds up columns over even and odd rows', () => {
    const width = 11
    const words = Uint16Array.from({ length: width * 5 }, (_, i) => (i * 7001) % 65536)
    const { columnSums } = countWithKernel(words, width, null, 1, true)
    for (let x = 0; x < width; x++) {
      const column = [0, 1, 2, 3, 4].map((r) => words[r * width + x])
      expect(columnSums[1][x]).toBe(column[0] + column[2] + column[4])
      expect(columnSums[0][x]).toBe(column[1] + column[3])
    }
  })
})

function bytes(array: Uint32Array): Uint8Array {
  return new Uint8Array(array.buffer, array.byteOffset, array.byteLength)
}
