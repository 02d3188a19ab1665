import { decodeRows, type FitsLibrary } from './adapter.ts'
import { ImagePainter } from './painter.ts'
import type { FromImageWorker, OpenImage, ToImageWorker } from './messages.ts'
import { planSamples } from './samples.ts'
import { bands, ImageTrouble } from './source.ts'

/**
 * The image worker: fetches, decodes, measures and draws, so that the window never waits for pixels. A classic worker, because
 * fitsjs works only as a script of its own: bundled, its `this` is undefined.
 */
interface WorkerScope {
  onmessage: (event: MessageEvent<ToImageWorker>) => void
  postMessage(message: FromImageWorker): void
  importScripts(url: string): void
  astro: FitsLibrary
}
const scope = self as unknown as WorkerScope
const say = (message: FromImageWorker) => scope.postMessage(message)
const painter = new ImagePainter(say)

/** Drawing and questions have their turn in between: a message of our own comes after theirs. */
const turns = new MessageChannel()
const breathe = () =>
  new Promise<void>((resolve) => {
    turns.port1.onmessage = () => resolve()
    turns.port2.postMessage(null)
  })

async function open(ask: OpenImage) {
  const { layout } = ask
  scope.importScripts(ask.library)
  const decode = scope.astro.FITS.Image.prototype._getFrame
  const plan = planSamples(layout)
  const image = painter.begin(ask, new plan.type(layout.width * layout.height))
  for await (const band of bands(ask)) {
    const rows = band.byteLength / (layout.width * (Math.abs(layout.bitpix) / 8))
    decodeRows(decode, band, layout, plan, image.data, image.rows * layout.width)
    image.rows += rows
    painter.extend()
    await breathe()
  }
  painter.finish()
}

function fail(error: unknown) {
  const room = error instanceof RangeError
  say({
    say: 'failed',
    text: room
      ? 'This image needs more memory than this window has: close other windows, or open it on a machine with more.'
      : error instanceof ImageTrouble
        ? error.message
        : `Nightshelf made a mistake while showing this image (${(error as Error).message}). The file is untouched; please open it again.`,
  })
}

scope.onmessage = ({ data }) => {
  if (data.do === 'open') void open(data).catch(fail)
  else if (data.do === 'canvas') painter.canvas = data.canvas
  else if (data.do === 'see') painter.see(data.seen)
  else say({ say: 'value', x: data.x, y: data.y, value: painter.valueAt(data.x, data.y) })
}
