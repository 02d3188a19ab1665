import { join, resolve } from 'node:path'
import { folderReason, Links, listFolder, type Listing, type Problem } from './listing.ts'

/** A file that may be a frame, or a path that is passed over and why. */
export type Listed = { path: string } | { problem: Problem }

/**
 * Every file by a FITS name below a folder, in path order, as a stream: nothing is opened, and no more than the folders on the way
 * are held in memory. What cannot be listed is a problem of its own, and the rest goes on.
 */
export async function* listFits(root: string): AsyncGenerator<Listed> {
  const path = resolve(root)
  let links: Links
  try {
    links = await Links.below(path)
  } catch (error) {
    yield { problem: { path, reason: folderReason(error) } }
    return
  }
  yield* listBelow(path, links)
}

async function* listBelow(folder: string, links: Links): AsyncGenerator<Listed> {
  let listing: Listing
  try {
    listing = await listFolder(folder, links)
  } catch (error) {
    yield { problem: { path: folder, reason: folderReason(error) } }
    return
  }
  for (const problem of listing.problems) yield { problem }
  // A folder's files come where its name with the separator would stand among the names: that is the order of the paths.
  const entries = [
    ...listing.files.map((name) => ({ key: name, name, folder: false })),
    ...listing.folders.map((name) => ({ key: name + '/', name, folder: true })),
  ].sort((a, b) => (a.key < b.key ? -1 : 1))
  for (const entry of entries) {
    const path = join(folder, entry.name)
    if (entry.folder) yield* listBelow(path, links)
    else yield { path }
  }
}
