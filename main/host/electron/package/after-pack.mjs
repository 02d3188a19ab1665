import { readFile, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { hardenedFuses, setFuse } from '../fuses.ts'

/**
 * Sets the fuse that the packager does not know; it sets the others itself, and signs afterwards.
 * @param {import('electron-builder').AfterPackContext} context
 */
export default async function afterPack({ appOutDir, packager, electronPlatformName }) {
  const { productFilename } = packager.appInfo
  const program = {
    darwin: `${productFilename}.app/Contents/Frameworks/Electron Framework.framework/Electron Framework`,
    win32: `${productFilename}.exe`,
  }[electronPlatformName]
  const path = join(appOutDir, program ?? packager.executableName)
  await writeFile(path, setFuse(await readFile(path), 'wasmTrapHandlers', hardenedFuses.wasmTrapHandlers))
}
