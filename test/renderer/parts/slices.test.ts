import { expect, test } from 'vitest'
import { finish, inSlices } from '../../../renderer/parts/slices.ts'

/** Work of so many steps, each as long as said, ms. */
function* steps(count: number, stepMs: number, taken: number[] = []) {
  for (let step = 0; step < count; step++) {
    const until = performance.now() + stepMs
    while (performance.now() < until);
    taken.push(step)
    yield
  }
  return 'done'
}

test('what fits into the first slice is done at once', async () => {
  const taken: number[] = []
  const result = inSlices(steps(5, 0, taken))
  expect(taken).toHaveLength(5)
  expect(await result).toBe('done')
})

test('between slices everything else that waits has its turn', async () => {
  let turns = 0
  const others = setInterval(() => turns++, 1)
  expect(await inSlices(steps(20, 5))).toBe('done')
  clearInterval(others)
  expect(turns).toBeGreaterThan(3)
})

test('ended in the middle it takes no further step, and gives nothing', async () => {
  const ended = new AbortController()
  const taken: number[] = []
  const result = inSlices(steps(100, 10, taken), ended.signal)
  ended.abort()
  expect(await result).toBeUndefined()
  expect(taken.length).toBeLessThan(3)
})

test('the same work is finished in one go where somebody waits for it', () => {
  expect(finish(steps(3, 0))).toBe('done')
})
