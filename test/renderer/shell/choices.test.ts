import { expect, test } from 'vitest'
import { actionFor } from '../../../renderer/shell/keys.svelte.ts'
import { firstLook } from '../../../renderer/shell/look.svelte.ts'
import { Jobs } from '../../../renderer/shell/jobs.svelte.ts'
import { Sound } from '../../../renderer/shell/sound.svelte.ts'
import { notices } from '../support/night.ts'

test('the look is the one in the address, else the one last chosen, else warm', () => {
  expect(firstLook('?look=red-lamp', 'warm')).toBe('red-lamp')
  expect(firstLook('', 'red-lamp')).toBe('red-lamp')
  expect(firstLook('?look=green', null)).toBe('warm')
})

const stroke = (key: string, more = {}) => ({
  key,
  ctrlKey: false,
  altKey: false,
  metaKey: false,
  target: null,
  ...more,
})

test('keys 1 to 5 lead to the places, ? to the list of keys', () => {
  expect(actionFor(stroke('1'))).toEqual({ do: 'go', place: 'tonight' })
  expect(actionFor(stroke('5'))).toEqual({ do: 'go', place: 'settings' })
  expect(actionFor(stroke('?'))).toEqual({ do: 'keys' })
  expect(actionFor(stroke('l'))).toEqual({ do: 'look' })
  expect(actionFor(stroke('g'))).toEqual({ do: 'glance' })
  expect(actionFor(stroke('6'))).toBeNull()
})

test('keys of the browser are left to it', () => {
  expect(actionFor(stroke('1', { ctrlKey: true }))).toBeNull()
  expect(actionFor(stroke('l', { metaKey: true }))).toBeNull()
})

const loud = { ...notices[0]!, id: 'loud', severity: 'actNow' as const, sounds: true }

test('a notice sounds once, and only if it is one that sounds and is not acknowledged', async () => {
  let played = 0
  const sound = new Sound(async () => (played++, true))
  await sound.consider(notices)
  expect(played).toBe(0)
  await sound.consider([loud])
  await sound.consider([loud])
  await sound.consider([{ ...loud, id: 'other', acknowledged: true }])
  expect(played).toBe(1)
  const reopened = new Sound(async () => (played++, true))
  await reopened.consider([loud])
  expect(played).toBe(1)
})

test('a call that the browser kept back is made again, and the page says what it waits for', async () => {
  let allowed = false
  let played = 0
  const sound = new Sound(async () => (played++, allowed))
  const kept = { ...loud, id: 'kept back' }
  await sound.consider([kept])
  expect(sound.blocked).toBe(true)
  allowed = true
  await sound.consider([kept])
  await sound.consider([kept])
  expect(sound.blocked).toBe(false)
  expect(played).toBe(2)
})

test('the call can be tried beforehand, muted or not, and says whether the browser played it', async () => {
  const sound = new Sound(async () => false)
  expect(await sound.try()).toBe(false)
  expect(await new Sound(async () => true).try()).toBe(true)
})

test('nothing sounds while muted', async () => {
  let played = 0
  const sound = new Sound(async () => (played++, true))
  sound.toggle()
  await sound.consider([{ ...loud, id: 'muted' }])
  expect(played).toBe(0)
})

test('work that is done leaves the list, work that failed stays until it is put away', () => {
  const jobs = new Jobs()
  const step = { event: 'progress', title: 'Reading', total: 10, leftS: null, text: null } as const
  jobs.note({ ...step, job: 'a', done: 1, state: 'running' })
  jobs.note({ ...step, job: 'b', done: 2, state: 'running' })
  jobs.note({ ...step, job: 'a', done: 10, state: 'done' })
  jobs.note({ ...step, job: 'b', done: 3, state: 'failed', text: 'The disk is full.' })
  expect(jobs.list.map(({ job, state }) => [job, state])).toEqual([['b', 'failed']])
  jobs.putAway('b')
  expect(jobs.list).toEqual([])
})
