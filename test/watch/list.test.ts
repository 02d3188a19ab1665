import { mkdirSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { listFits, type Listed } from '../../main/watch/list.ts'
import { freshFolder } from './files.ts'

let folder: ReturnType<typeof freshFolder>
beforeEach(() => (folder = freshFolder()))
afterEach(() => folder.remove())

async function all(root: string) {
  const listed: Listed[] = []
  for await (const one of listFits(root)) listed.push(one)
  return {
    paths: listed.flatMap((one) => ('path' in one ? [one.path.slice(folder.path.length + 1)] : [])),
    problems: listed.flatMap((one) => ('problem' in one ? [one.problem] : [])),
  }
}

test('files come in the order of their paths, whatever the folders', async () => {
  for (const name of ['b', 'a', 'a-b', 'a/deep']) mkdirSync(join(folder.path, name), { recursive: true })
  for (const name of ['b/1.fits', 'a.fits', 'a/2.FIT', 'a/deep/3.fz', 'a-b/4.fts', 'z.txt', 'A.fits'])
    writeFileSync(join(folder.path, name), '')
  const { paths, problems } = await all(folder.path)
  expect(paths).toEqual([...paths].sort())
  expect(paths).toHaveLength(6)
  expect(problems).toEqual([])
})

test('a folder that is not there and a link loop are one sentence each', async () => {
  symlinkSync(folder.path, join(folder.path, 'loop'))
  writeFileSync(join(folder.path, 'a.fits'), '')
  expect((await all(folder.path)).problems).toMatchObject([{ path: join(folder.path, 'loop') }])
  expect((await all(join(folder.path, 'nothing'))).problems).toMatchObject([
    { reason: 'This folder is not there: check its name, and whether its disk is connected.' },
  ])
})
