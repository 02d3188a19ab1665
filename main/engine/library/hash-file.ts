import { createHash } from 'node:crypto'
import { open } from 'node:fs/promises'

const CHUNK = 4 * 1024 * 1024

/**
 * SHA-256 of a whole file, hex. Reads 4 MiB at a time and gives the event loop its turn between.
 * @throws the system's error, or an AbortError
 */
export async function hashFile(path: string, signal?: AbortSignal): Promise<{ sha256: string; size: number }> {
  const file = await open(path, 'r')
  try {
    const hash = createHash('sha256')
    const chunk = Buffer.allocUnsafe(CHUNK)
    let size = 0
    for (;;) {
      signal?.throwIfAborted()
      const { bytesRead } = await file.read(chunk, 0, CHUNK, size)
      if (bytesRead === 0) return { sha256: hash.digest('hex'), size }
      hash.update(chunk.subarray(0, bytesRead))
      size += bytesRead
    }
  } finally {
    await file.close()
  }
}
