import type { Layout } from '../../main/contract/index.ts'
import type { OpenImage } from './messages.ts'

/** A sentence for a person about why there is no image. */
export class ImageTrouble extends Error {
  override name = 'ImageTrouble'
}

const BAND_BYTES = 2 ** 21

/**
 * The bytes of the first plane in bands of whole rows, as they arrive. Each band's buffer is the caller's until it asks for the next.
 * @throws ImageTrouble
 */
export async function* bands(ask: Pick<OpenImage, 'url' | 'headers' | 'layout'>): AsyncGenerator<ArrayBuffer> {
  const { layout } = ask
  const rowBytes = (layout.width * Math.abs(layout.bitpix)) / 8
  const reader = await openStream(ask, rowBytes * layout.height)
  const most = Math.max(1, Math.floor(BAND_BYTES / rowBytes))
  for (let rows = 0; rows < layout.height; rows += most) {
    const buffer = new ArrayBuffer(Math.min(most, layout.height - rows) * rowBytes)
    await reader.fill(new Uint8Array(buffer))
    yield buffer
  }
}

async function openStream({ url, headers, layout }: Pick<OpenImage, 'url' | 'headers' | 'layout'>, length: number) {
  const last = layout.offset + length - 1
  const response = await fetch(url, { headers: { ...headers, Range: `bytes=${layout.offset}-${last}` } }).catch(() => {
    throw cutOff()
  })
  if (!response.ok) throw new ImageTrouble(await refusalOf(response))
  if (response.status !== 206 || !sameFile(response, layout))
    throw new ImageTrouble('This file has changed since it was opened: open it again.')
  return new Filler(response.body!.getReader())
}

const cutOff = () =>
  new ImageTrouble(
    'The connection to Nightshelf was lost while the pixels came: it is made again by itself, then try again.',
  )

async function refusalOf(response: Response): Promise<string> {
  const text = (await response.text()).trim()
  return text || `The pixels were refused (${response.status}): try again.`
}

/** `Content-Range: bytes 2880-5759/8640` names the length of the whole file. */
const sameFile = (response: Response, { fileBytes }: Layout) =>
  Number(response.headers.get('Content-Range')?.split('/')[1]) === fileBytes

/** Cuts a stream into pieces of any length. */
class Filler {
  readonly #reader: ReadableStreamDefaultReader<Uint8Array>
  #rest = new Uint8Array(0)

  constructor(reader: ReadableStreamDefaultReader<Uint8Array>) {
    this.#reader = reader
  }

  async fill(out: Uint8Array): Promise<void> {
    for (let have = 0; have < out.length;) {
      if (!this.#rest.length) this.#rest = await this.#read()
      const some = this.#rest.subarray(0, out.length - have)
      out.set(some, have)
      have += some.length
      this.#rest = this.#rest.subarray(some.length)
    }
  }

  async #read() {
    const { value, done } = await this.#reader.read().catch(() => {
      throw cutOff()
    })
    if (done || !value)
      throw new ImageTrouble(
        'The file ended before its image did: copy it again from the camera computer, then try again.',
      )
    return value as Uint8Array<ArrayBuffer>
  }
}
