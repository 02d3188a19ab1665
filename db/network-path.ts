import { execFileSync } from 'node:child_process'
import { readFileSync, realpathSync } from 'node:fs'
import { dirname, resolve } from 'node:path'

/** File systems behind which another machine stands: SQLite's write-ahead log needs shared memory, which they cannot give. */
const network =
  /^(nfs\d?|cifs|smb\d?|smbfs|afpfs|webdav|davfs2?|ceph|glusterfs|fuse\.(sshfs|rclone|glusterfs|ceph.*|davfs2?)|9p|afs|ncpfs|lustre|beegfs|ocfs2|gfs2?)$/

/**
 * Whether a file or folder (which need not exist yet) lies on another machine. On Linux by the table of mounts, on macOS by
 * `mount`, on Windows by its name only (`\\server\share`): a mapped drive letter is not recognised there.
 */
export function isNetworkPath(path: string, platform: NodeJS.Platform = process.platform): boolean {
  if (platform === 'win32') return /^[\\/]{2}(?![?.][\\/])|^[\\/]{2}\?[\\/]UNC[\\/]/i.test(path)
  return network.test(fileSystemOf(nearestExisting(path), readMounts(platform)))
}

/** Type of the file system that holds this path, by the longest mount point above it; '' if none is. */
export function fileSystemOf(path: string, mounts: { point: string; type: string }[]): string {
  let best = { point: '', type: '' }
  for (const mount of mounts) {
    const below = mount.point === '/' || path === mount.point || path.startsWith(`${mount.point}/`)
    // The later of two mounts on one point hides the earlier.
    if (below && mount.point.length >= best.point.length) best = mount
  }
  return best.type
}

/** The lines of `/proc/self/mounts`: device, point, type, options; blanks in a point are written `\040`. */
export const parseProcMounts = (text: string) =>
  text.split('\n').flatMap((line) => {
    const [, point, type] = line.split(' ')
    const plain = point?.replace(/\\([0-7]{3})/g, (_, octal) => String.fromCharCode(parseInt(octal, 8)))
    return plain && type ? [{ point: plain, type }] : []
  })

/** The lines of `mount` on macOS: `//user@host/share on /Volumes/share (smbfs, nodev, nosuid)`. */
export const parseMountCommand = (text: string) =>
  text.split('\n').flatMap((line) => {
    const [, point, type] = / on (.+) \(([^,)]+)/.exec(line) ?? []
    return point && type ? [{ point, type }] : []
  })

function readMounts(platform: NodeJS.Platform) {
  try {
    if (platform === 'darwin') return parseMountCommand(execFileSync('/sbin/mount', { encoding: 'utf8' }))
    return parseProcMounts(readFileSync('/proc/self/mounts', 'utf8'))
  } catch {
    return []
  }
}

function nearestExisting(path: string): string {
  for (let at = resolve(path); ; at = dirname(at)) {
    try {
      return realpathSync(at)
    } catch {
      if (dirname(at) === at) return at
    }
  }
}
