import { expect, test } from 'vitest'
import { isNetworkPath } from '../../main/watch/mounts.ts'

// The form of a line is that of proc(5), /proc/[pid]/mountinfo.
const mounts = [
  '26 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw',
  '40 26 0:50 / /mnt/nas rw,relatime shared:20 - nfs4 nas:/astro rw',
  '41 26 0:51 / /mnt/my\\040share rw - cifs //pc/share rw',
  '42 40 8:17 / /mnt/nas/usb rw - ext4 /dev/sdb1 rw',
  '43 26 0:60 / /home/sam/pier rw - fuse.sshfs pier:/ rw',
  '44 26 0:61 / /media/stick rw - exfat /dev/sdc1 rw',
  '45 26 0:62 / /mnt/both rw - nfs nas:/old rw',
  '46 45 8:33 / /mnt/both rw - ext4 /dev/sdd1 rw',
].join('\n')

test.each([
  ['/home/sam/astro', false],
  ['/mnt/nas', true],
  ['/mnt/nas/2026/M31', true],
  ['/mnt/nas2', false],
  ['/mnt/nas/usb/M31', false],
  ['/mnt/my share/M31', true],
  ['/home/sam/pier/astro', true],
  ['/media/stick', false],
  ['/mnt/both/M31', false],
  ['\\\\pc\\share\\astro', true],
  ['//pc/share/astro', true],
])('%s is on a network: %s', (path, network) => {
  expect(isNetworkPath(path, mounts)).toBe(network)
})

test('without a list of mounts nothing is taken for a network', () => {
  expect(isNetworkPath('/anything', '')).toBe(false)
})
