// Compiles each AssemblyScript kernel in main/*/kernels/assembly/*.ts to out/kernels/NAME.wasm (SIMD). What several kernels share
// stands in assembly/shared/. Memory is imported: the caller lays it out, the kernels allocate nothing.
import { mkdirSync, readdirSync, existsSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('../../../', import.meta.url))
const sources = readdirSync(join(root, 'main')).flatMap((folder) => {
  const assembly = join(root, 'main', folder, 'kernels', 'assembly')
  return existsSync(assembly)
    ? readdirSync(assembly)
        .filter((f) => f.endsWith('.ts'))
        .map((f) => join(assembly, f))
    : []
})
mkdirSync(join(root, 'out', 'kernels'), { recursive: true })
if (sources.length) {
  const { main } = await import('assemblyscript/asc')
  for (const source of sources) {
    const name = source.slice(source.lastIndexOf('/') + 1, -3)
    const { error, stderr } = await main(
      [
        source,
        '-o',
        join(root, 'out', 'kernels', `${name}.wasm`),
        '-O3',
        '--noAssert',
        '--runtime',
        'stub',
        '--enable',
        'simd',
        '--importMemory',
      ],
      {},
    )
    if (error) throw new Error(`${name}: ${stderr.toString() || error.message}`)
  }
}
