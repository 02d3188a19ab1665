import { readFileSync } from 'node:fs'
import { resolve } from 'node:path'

/** File systems over which the kernel hears nothing of what other machines write. */
const networkTypes =
  /^(nfs\d?|cifs|smb\d?|smbfs|9p|afs|afpfs|ceph|glusterfs|lustre|davfs2?|ncpfs|coda|virtiofs|vboxsf|prl_fs|fuse\.(sshfs|rclone|davfs2?|smbnetfs|glusterfs|s3fs|gvfsd-fuse|vmhgfs-fuse))$/

/**
 * True where a folder lies on a network file system, so that it must be polled. Told by the mounts of Linux (mountinfo) and by
 * \\server\share paths; elsewhere the user says so.
 */
export function isNetworkPath(path: string, mountInfo: string = readMountInfo()): boolean {
  if (/^(\\\\|\/\/)[^\\/]/.test(path)) return true
  const full = resolve(path)
  let best: { point: string; type: string } | null = null
  for (const line of mountInfo.split('\n')) {
    const [before, after] = line.split(' - ')
    const point = before?.split(' ')[4]
    const type = after?.split(' ')[0]
    if (!point || !type) continue
    const plain = point.replace(/\\(\d{3})/g, (_, octal: string) => String.fromCharCode(parseInt(octal, 8)))
    const inside = full === plain || full.startsWith(plain === '/' ? '/' : plain + '/')
    // A later line for the same point lies over the earlier one.
    if (inside && (!best || plain.length >= best.point.length)) best = { point: plain, type }
  }
  return best !== null && networkTypes.test(best.type)
}

function readMountInfo(): string {
  try {
    return readFileSync('/proc/self/mountinfo', 'utf8')
  } catch {
    return ''
  }
}
