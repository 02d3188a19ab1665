import { execFileSync, spawnSync } from 'node:child_process'
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { fitsBytes, freshFolder } from './files.ts'

const script = fileURLToPath(new URL('./watch-once.ts', import.meta.url))
const has = (command: string, ...args: string[]) => spawnSync(command, args).status === 0
const canMount = has('unshare', '-rm', 'sh', '-c', 'mount --bind /tmp /tmp && mount -o remount,ro,bind /tmp')
const canTrace = has('strace', '-e', 'trace=none', 'true')
const title = (can: boolean, text: string) => (can ? text : `not run (the tool for it is not here): ${text}`)

let folder: ReturnType<typeof freshFolder>
beforeEach(() => {
  folder = freshFolder()
  mkdirSync(join(folder.path, 'M31'))
  writeFileSync(join(folder.path, 'M31/a.fits'), fitsBytes())
  writeFileSync(join(folder.path, 'b.fits'), fitsBytes().subarray(0, 4000))
  writeFileSync(join(folder.path, 'c.fits'), 'text')
})
afterEach(() => folder.remove())

test.skipIf(!canMount)(title(canMount, 'a folder on a read-only mount is watched like any other'), () => {
  const command = 'mount --bind "$1" "$1" && mount -o remount,ro,bind "$1" && exec "$2" "$3" "$1"'
  const out = execFileSync('unshare', ['-rm', 'sh', '-c', command, 'sh', folder.path, process.execPath, script], {
    encoding: 'utf8',
  })
  expect(JSON.parse(out)).toMatchObject({ complete: 1, broken: 1, problem: 0, writable: false })
})

test.skipIf(!canTrace)(
  title(canTrace, 'no call of the system that could write, rename, lock or delete names the folder'),
  () => {
    const trace = join(folder.path + '.trace')
    const calls =
      'open,openat,openat2,creat,rename,renameat,renameat2,unlink,unlinkat,mkdir,mkdirat,rmdir,link,linkat,symlink,symlinkat,chmod,fchmodat,chown,fchownat,utimensat,truncate,setxattr,flock,mknod,mknodat'
    execFileSync('strace', ['-f', '-qq', '-o', trace, '-e', `trace=${calls}`, process.execPath, script, folder.path])
    const lines = execFileSync('grep', ['-F', folder.path + '/', trace], { encoding: 'utf8' })
      .trim()
      .split('\n')
    execFileSync('rm', [trace])
    expect(lines.length).toBeGreaterThan(3)
    const harmful = lines.filter(
      (line) => !/ open(at)?\(/.test(line) || /O_WRONLY|O_RDWR|O_CREAT|O_TRUNC|O_APPEND/.test(line),
    )
    expect(harmful).toEqual([])
  },
)
