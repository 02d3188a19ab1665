import { expect, test } from 'vitest'
import { frameSchema, masterSchema, tonightSchema } from '../../../main/contract/index.ts'
import { frame, masters, tonight } from './night.ts'

test('the night that the window’s tests draw is one that the contract allows', () => {
  expect(tonightSchema.safeParse(tonight).error).toBeUndefined()
  expect(frameSchema.safeParse(frame).error).toBeUndefined()
  for (const master of masters) expect(masterSchema.safeParse(master).error).toBeUndefined()
})
