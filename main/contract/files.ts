import { FILE_VIEWS } from './words.ts'

export type FileView = (typeof FILE_VIEWS)[number]

/** A file as the page names it: by id, never by path. */
export interface FileAddress {
  of: 'frame' | 'master' | 'check'
  id: number
  view: FileView
}

const pattern = /^(frame|master|check)\/([1-9]\d{0,14})\/([a-z.]+)$/

/** The address to fetch, relative to the page, the same in both hosts: `frame/12/pixels`, `master/3/thumbnail.png`. */
export const fileAddress = (of: FileAddress['of'], id: number, view: FileView): string => `${of}/${id}/${view}`

/** Reads `frame/12/pixels` (no leading slash, no query); null for anything else. */
export function parseFileAddress(address: string): FileAddress | null {
  const [, of, id, view] = pattern.exec(address) ?? []
  if (!of || !FILE_VIEWS.includes(view as FileView)) return null
  return { of: of as FileAddress['of'], id: Number(id), view: view as FileView }
}
