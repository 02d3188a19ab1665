import type { Answer } from '../../main/contract/index.ts'
import { fileAddress } from '../../main/contract/files.ts'
import type { Client } from '../client/client.svelte.ts'
import { sentenceFor } from '../client/troubles.svelte.ts'
import { Disconnected } from '../client/transport.ts'
import { placesOf } from './colour.ts'
import { createImageWorker, libraryAddress } from './image-worker.ts'
import type { ImageLevels } from './levels.ts'
import type { FromImageWorker, ToImageWorker } from './messages.ts'
import { bytesOfSamples, MOST_BYTES } from './samples.ts'
import { USUAL_BRIGHTNESS } from './stretch.ts'
import { fit, nextScale, pan, pixelAt, settle, zoomTo, type Size, type View } from './view.ts'
import { isBottomUp } from '../parts/settings.ts'
import { scaleTopOf, tooLarge } from './words.ts'

type Point = { x: number; y: number }

/** How the last image was looked at: the next one of the same size is looked at alike, to compare the two. */
let last: { size: Size; view: View | null; brightness: number; asIs: boolean; colour: boolean } | null = null

/** One image on the screen: what is known of it, and how it is looked at. Pixels stay in a worker. */
export class ImageState {
  readonly of: 'frame' | 'master'
  readonly id: number
  readonly #client: Client
  #worker: Worker | null = null
  #answer = $state.raw<Answer<'image'> | null>(null)
  #failure = $state<string | null>(null)
  #rows = $state(0)
  #levels = $state.raw<ImageLevels | null>(null)
  #drawn = $state<'nothing' | 'part' | 'whole'>('nothing')
  #value = $state.raw<(Point & { value: number | null }) | null>(null)
  #canvas = $state.raw<Size | null>(null)
  #view = $state.raw<View | null>(null)
  #pointer = $state.raw<Point | null>(null)
  #drawnRed = $state(false)
  brightness = $state(last?.brightness ?? USUAL_BRIGHTNESS)
  asIs = $state(last?.asIs ?? false)
  colour = $state(last?.colour ?? false)

  constructor(client: Client, of: 'frame' | 'master', id: number) {
    this.#client = client
    this.of = of
    this.id = id
  }

  get answer() {
    return this.#answer
  }

  /** One sentence that says what to do; null while all is well. */
  get failure() {
    return this.#failure
  }

  /** Rows that have come, of all. */
  get rows() {
    return this.#rows
  }

  get levels() {
    return this.#levels
  }

  get drawn() {
    return this.#drawn
  }

  /** The look in which the canvas was drawn last: until it is the window's own, nothing of it may be seen. */
  get drawnRed() {
    return this.#drawnRed
  }

  /** The pixel under the pointer, or in the middle while keys are used; columns and rows from 0, as stored. */
  get value() {
    return this.#value
  }

  get size(): Size | null {
    return this.#answer && { width: this.#answer.layout.width, height: this.#answer.layout.height }
  }

  /** Device pixels a pixel; null until it can be told. */
  get scale(): number | null {
    return (this.#view ?? this.#fitted)?.scale ?? null
  }

  get isWhole() {
    return this.#view === null
  }

  get hasColour() {
    return placesOf(this.#answer?.cfa ?? null) !== null
  }

  /** True where the first stored row stands at the bottom of the picture. */
  get bottomUp() {
    return isBottomUp(this.#answer)
  }

  /** True while keys and not a pointer say which pixel is meant. */
  get marksMiddle() {
    return this.#pointer === null
  }

  /** Asks for the image now and after each reconnection until it is there; returns what ends it. */
  start(canvas: HTMLCanvasElement): () => void {
    const worker = createImageWorker()
    this.#worker = worker
    worker.onmessage = ({ data }: MessageEvent<FromImageWorker>) => this.#hear(data)
    worker.onerror = () => (this.#failure = 'The picture could not be started: load this page again.')
    const offscreen = canvas.transferControlToOffscreen()
    worker.postMessage({ do: 'canvas', canvas: offscreen } satisfies ToImageWorker, [offscreen])
    const off = this.#client.whenUsable(() => {
      if (!this.#answer || this.#failure) void this.open()
    })
    return () => {
      off()
      this.#worker = null
      worker.terminate()
    }
  }

  async open(): Promise<void> {
    this.#failure = null
    this.#rows = 0
    try {
      const answer = await this.#client.ask('image', { of: this.of, id: this.id })
      if (!this.#worker) return
      const { layout, cfa } = answer
      if (bytesOfSamples(layout) > MOST_BYTES) return void (this.#failure = tooLarge(layout))
      this.#answer = answer
      const request = this.#client.fileRequest(fileAddress(this.of, this.id, 'pixels'))
      const { bottomUp } = this
      this.#tell({
        do: 'open',
        ...request,
        library: libraryAddress,
        layout,
        cfa,
        bottomUp,
        scaleTop: scaleTopOf(answer),
      })
      this.#look(this.#viewAtFirst())
    } catch (error) {
      if (!(error instanceof Disconnected)) this.#failure = sentenceFor(error, 'opening the picture')
    }
  }

  /** @param canvas device pixels */
  resize(canvas: Size): void {
    const wasWhole = this.isWhole
    this.#canvas = canvas
    if (!this.size) return
    if (!this.#view) this.#look(this.#viewAtFirst())
    else this.#look(wasWhole ? null : settle(this.#view, this.size, canvas))
  }

  /** What is asked of the worker follows from how it is to be seen. */
  show(red: boolean): void {
    const [view, canvas] = [this.#view ?? this.#fitted, this.#canvas]
    if (!view || !canvas || !this.#answer) return
    const { brightness, asIs, colour } = this
    last = { size: this.size!, view: this.isWhole ? null : view, brightness, asIs, colour }
    this.#tell({ do: 'see', seen: { view, canvas, brightness: asIs ? null : brightness, colour, red } })
    this.#askValue()
  }

  whole = () => this.#look(null)
  oneToOne = (at?: Point) => this.zoom(1, at)
  larger = (at?: Point) => this.#step(1, at)
  smaller = (at?: Point) => this.#step(-1, at)

  /** @param at device pixels of the canvas; its middle where left out */
  zoom(scale: number, at: Point = this.#middle): void {
    const view = this.#view ?? this.#fitted
    if (view) this.#look(zoomTo(view, this.size!, this.#canvas!, at, scale))
  }

  move(by: Point): void {
    const view = this.#view ?? this.#fitted
    if (view) this.#look(pan(view, this.size!, this.#canvas!, by))
  }

  /** @param at device pixels of the canvas; null: the middle */
  point(at: Point | null): void {
    this.#pointer = at
    this.#askValue()
  }

  get #middle(): Point {
    return this.#canvas ? { x: this.#canvas.width / 2, y: this.#canvas.height / 2 } : { x: 0, y: 0 }
  }

  get #fitted(): View | null {
    return this.size && this.#canvas && fit(this.size, this.#canvas)
  }

  #viewAtFirst(): View | null {
    const size = this.size
    const alike = last?.view && size && last.size.width === size.width && last.size.height === size.height
    return alike && this.#canvas ? settle(last!.view!, size, this.#canvas) : null
  }

  /** Null: the whole image, whatever size the canvas has. */
  #look(view: View | null): void {
    this.#view = view && this.#fitted && view.scale === this.#fitted.scale ? null : view
  }

  #step(direction: 1 | -1, at?: Point) {
    const view = this.#view ?? this.#fitted
    if (view) this.zoom(nextScale(view.scale, direction, this.#fitted!.scale), at)
  }

  #askValue() {
    const view = this.#view ?? this.#fitted
    if (!view || !this.size || !this.#canvas) return
    const pixel = pixelAt(view, this.size, this.#canvas, this.#pointer ?? this.#middle)
    if (!pixel) this.#value = null
    else this.#tell({ do: 'value', x: pixel.x, y: this.bottomUp ? this.size.height - 1 - pixel.y : pixel.y })
  }

  #tell(message: ToImageWorker) {
    this.#worker?.postMessage(message)
  }

  #hear(said: FromImageWorker) {
    if (said.say === 'progress') this.#rows = said.rows
    else if (said.say === 'levels') {
      this.#levels = said.levels
      this.#rows = this.size!.height
    } else if (said.say === 'drawn') {
      this.#drawn = said.whole ? 'whole' : 'part'
      this.#drawnRed = said.red
    } else if (said.say === 'failed') this.#failure = said.text
    else this.#value = { x: said.x, y: said.y, value: said.value }
    // The row that is meant may be among those that have come.
    if (said.say === 'levels' || said.say === 'progress') this.#askValue()
  }
}
