import { existsSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'

/** Compiled kernels stand beside the built program (out/main → out/kernels); run from sources, in the checkout's own out/. */
const PLACES = ['../kernels/', '../../../out/kernels/']

const loaded = new Map<string, WebAssembly.Module>()

/**
 * The compiled kernel of that name, once per thread.
 * @throws Error when it has not been built (`npm run kernels`)
 */
export function loadKernel(name: string): WebAssembly.Module {
  let module = loaded.get(name)
  if (!module) {
    const file = PLACES.map((place) => fileURLToPath(new URL(`${place}${name}.wasm`, import.meta.url))).find(existsSync)
    if (!file) throw new Error(`The kernel ${name}.wasm has not been built: run "npm run build".`)
    module = new WebAssembly.Module(readFileSync(file))
    loaded.set(name, module)
  }
  return module
}

/** WebAssembly memory of at least so many bytes. */
export function memoryOf(bytes: number): WebAssembly.Memory {
  return new WebAssembly.Memory({ initial: Math.ceil(bytes / 65536) + 1 })
}
