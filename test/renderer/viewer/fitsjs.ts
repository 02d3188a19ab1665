import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { FitsLibrary } from '../../../renderer/viewer/adapter.ts'
import type { Layout } from '../../../main/contract/index.ts'
import { decodeRows } from '../../../renderer/viewer/adapter.ts'
import { planSamples, type Samples } from '../../../renderer/viewer/samples.ts'

/** fitsjs as the worker loads it: an unbundled script whose `this` is the global object. */
const script = readFileSync(createRequire(import.meta.url).resolve('fitsjs/lib/fits.js'), 'utf8')
const globals = {} as { astro: FitsLibrary }
new Function(script).call(globals)
export const decode = globals.astro.FITS.Image.prototype._getFrame

/** The first plane of a file, decoded in bands of `bandRows` rows. */
export function decodeFile(file: Uint8Array, layout: Layout, bandRows = layout.height): Samples {
  const plan = planSamples(layout)
  const out = new plan.type(layout.width * layout.height)
  const rowBytes = (layout.width * Math.abs(layout.bitpix)) / 8
  for (let y = 0; y < layout.height; y += bandRows) {
    const rows = Math.min(bandRows, layout.height - y)
    const from = layout.offset + y * rowBytes
    const band = Uint8Array.from(file.subarray(from, from + rows * rowBytes))
    decodeRows(decode, band.buffer, layout, plan, out, y * layout.width)
  }
  return out
}
