import { extendColours, placesOf, splitColours } from './colour.ts'
import { drawColours, drawFullColour, drawGrey, type Sight } from './draw.ts'
import { measureLevels, type ImageLevels } from './levels.ts'
import type { FromImageWorker, OpenImage, Seen } from './messages.ts'
import { Pyramid, type Plane } from './pyramid.ts'
import type { Samples } from './samples.ts'
import { brightened, linear, type Curve } from './stretch.ts'

/** While rows come, the picture follows at this pace: drawing each band would take longer than decoding it. */
const WHILE_COMING_MS = 300

/** First rows that tell enough of an image to brighten it before all of it has come. */
const FIRST_PIXELS = 2 ** 20

/** The image in the worker: its pixels, its halves for drawing, its levels, and the canvas that shows a part of it. */
export class ImagePainter {
  canvas: OffscreenCanvas | null = null
  readonly #say: (message: FromImageWorker) => void
  #places: ReturnType<typeof placesOf> = null
  #scaleTop = 1
  #bottomUp = false
  #image: Plane | null = null
  #grey: Pyramid | null = null
  #colours: { planes: [Plane, Plane, Plane]; pyramids: Pyramid[] } | null = null
  #levels: ImageLevels | null = null
  #whole = false
  #seen: Seen | null = null
  #curve: { of: string; curve: Curve } | null = null
  #due = false
  #drawnMs = 0

  constructor(say: (message: FromImageWorker) => void) {
    this.#say = say
  }

  /** @param samples of the first plane, to be filled by the caller */
  begin({ layout: { width, height }, cfa, scaleTop, bottomUp }: OpenImage, samples: Samples): Plane {
    this.#image = { width, height, data: samples, rows: 0 }
    this.#grey = new Pyramid(this.#image)
    this.#places = placesOf(cfa)
    this.#scaleTop = scaleTop
    this.#bottomUp = bottomUp
    return this.#image
  }

  /** More rows have come. */
  extend(): void {
    const { rows, width } = this.#image!
    this.#grey!.extend()
    if (!this.#levels && rows * width >= FIRST_PIXELS) this.#measure()
    if (performance.now() - this.#drawnMs < WHILE_COMING_MS) return
    this.#say({ say: 'progress', rows })
    this.#draw()
  }

  /** All rows are there. */
  finish(): void {
    this.#whole = true
    this.#measure()
    this.#say({ say: 'levels', levels: this.#levels! })
    this.#draw()
  }

  see(seen: Seen): void {
    this.#seen = seen
    this.#draw()
  }

  /** Null for what is no number, or not there yet. */
  valueAt(x: number, y: number): number | null {
    const image = this.#image
    const value = image && y < image.rows ? image.data[y * image.width + x] : NaN
    return Number.isNaN(value) ? null : value
  }

  #measure() {
    const { data, rows, width } = this.#image!
    this.#levels = measureLevels(data, rows * width, this.#scaleTop)
    this.#curve = null
  }

  /** Once for everything that has been asked by then. */
  #draw() {
    if (this.#due) return
    this.#due = true
    setTimeout(() => {
      this.#due = false
      this.#drawNow()
    })
  }

  #drawNow() {
    this.#drawnMs = performance.now()
    const [seen, canvas, levels, image] = [this.#seen, this.canvas, this.#levels, this.#image]
    if (!seen || !canvas || !levels || !image) return
    const { width, height } = seen.canvas
    const context = canvas.getContext('2d')!
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height })
    const picture = new ImageData(width, height)
    const sight: Sight = { ...seen, image, curve: this.#curveFor(seen, levels), bottomUp: this.#bottomUp }
    const out = new Uint32Array(picture.data.buffer)
    if (!seen.colour || !this.#places) drawGrey(this.#grey!.planes, sight, out)
    else if (seen.view.scale >= 1) drawFullColour(image, this.#places, sight, out)
    else drawColours(this.#coloursNow(image), sight, out)
    context.putImageData(picture, 0, 0)
    this.#say({ say: 'drawn', whole: this.#whole, red: seen.red })
  }

  #curveFor({ brightness }: Seen, levels: ImageLevels): Curve {
    const of = String(brightness)
    if (this.#curve?.of !== of)
      this.#curve = {
        of,
        curve: brightness === null ? linear(levels.from, levels.to) : brightened(levels, brightness),
      }
    return this.#curve.curve
  }

  /** Made when colour is first asked for: most images are never seen in colour. */
  #coloursNow(image: Plane) {
    const places = this.#places!
    if (!this.#colours) {
      const planes = splitColours(image)
      this.#colours = { planes, pyramids: planes.map((plane) => new Pyramid(plane)) }
    }
    extendColours(image, places, this.#colours.planes)
    for (const pyramid of this.#colours.pyramids) pyramid.extend()
    return this.#colours.pyramids.map((pyramid) => pyramid.planes)
  }
}
