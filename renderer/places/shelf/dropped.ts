import { isFitsName } from './answers.ts'

/** More than this from one folder is no drop of masters, but somebody's whole disk. */
const MOST_FILES = 2_000

const entryFile = (entry: FileSystemFileEntry) => new Promise<File>((resolve, reject) => entry.file(resolve, reject))
const readEntries = (reader: FileSystemDirectoryReader) =>
  new Promise<FileSystemEntry[]>((resolve, reject) => reader.readEntries(resolve, reject))

/**
 * The files of a drop. A folder stands for the FITS files in it, unless the host knows its path: then it is passed on as it is.
 * Must be called within the event: what was dropped is gone afterwards.
 */
export async function droppedFiles(transfer: DataTransfer, hasPath: (file: File) => boolean): Promise<File[]> {
  const items = [...transfer.items].filter(({ kind }) => kind === 'file')
  const taken = items.map((item) => ({ entry: item.webkitGetAsEntry(), file: item.getAsFile() }))
  const files: File[] = []
  for (const { entry, file } of taken) {
    if (file && (!entry?.isDirectory || hasPath(file))) files.push(file)
    else if (entry?.isDirectory) await walk(entry as FileSystemDirectoryEntry, files)
  }
  return files
}

async function walk(folder: FileSystemDirectoryEntry, files: File[]): Promise<void> {
  const reader = folder.createReader()
  for (;;) {
    // A reader gives a hundred at a time, and none at the end.
    const entries = await readEntries(reader)
    if (!entries.length) return
    for (const entry of entries) {
      if (files.length >= MOST_FILES) return
      if (entry.isDirectory) await walk(entry as FileSystemDirectoryEntry, files)
      else if (isFitsName(entry.name)) files.push(await entryFile(entry as FileSystemFileEntry))
    }
  }
}
