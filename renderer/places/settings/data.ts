import type { Answer, Clearable } from '../../../main/contract/index.ts'
import { number, withUnit } from '../../parts/format.ts'

/** 12 300 000 → "12.3 MB", 4 000 000 000 → "4 GB"; powers of ten, as disks are sold. */
export function bytesText(bytes: number): string {
  const units = ['B', 'kB', 'MB', 'GB', 'TB'] as const
  let at = 0
  let value = bytes
  for (; at < units.length - 1 && value >= 999.5; at++) value /= 1000
  return withUnit(number(value, at === 0 || value >= 99.95 ? 0 : 1, true), units[at]!)
}

type Told = Answer<'dataFolder'>

/** What stands in the data folder, in one sentence. */
export const sizesText = ({ bytes }: Told) =>
  [
    `the log ${bytesText(bytes.log)}`,
    `masters ${bytesText(bytes.masters)}`,
    `copies of the log ${bytesText(bytes.backups)}`,
    `small pictures ${bytesText(bytes.pictures)}`,
  ].join(', ')

/** What can be cleared: what it is called, and what clearing it does. */
export const CLEARING: Record<Clearable, { label: string; effect: string }> = {
  cache: {
    label: 'Unpacked pixels of compressed frames',
    effect: 'They are unpacked again when a frame is looked at.',
  },
  aside: {
    label: 'Logs put aside by a restore',
    effect: 'Then what they held beyond the log of now can’t be restored any more.',
  },
  leftBehind: {
    label: 'What was left in the folder before',
    effect:
      'Log, masters and copies were moved and checked; these are the old files. Nothing else in that folder is touched.',
  },
  demo: {
    label: 'Demo nights',
    effect:
      'Their files go, their folders are watched no more, and their masters are retired; what was logged of them stays.',
  },
}
