import { closeSync, openSync, readSync } from 'node:fs'
import { createHash } from 'node:crypto'
import { openImage, type ImageReader } from '../fits/image.ts'
import { atFile, serve } from '../measure/crew-member.ts'
import { darkFigures, flatFigures } from './figures.ts'
import { claim, DONE } from './job.ts'
import type {
  CombineAsk,
  CombinedStrips,
  Figured,
  FiguresAsk,
  SurveyAsk,
  Surveyed,
  ThreadAnswer,
  ThreadAsk,
} from './job.ts'
import { readDetail, readLook } from './detail.ts'
import { hashMaster, writeMaster } from './master-file.ts'
import { measureNoise } from './noise.ts'
import { pictureOf } from './picture.ts'
import { createStripper } from './strips.ts'

serve<ThreadAsk, ThreadAnswer>((ask) => {
  switch (ask.task) {
    case 'survey':
      return survey(ask)
    case 'combine':
      return combine(ask)
    case 'figures':
      return figure(ask)
    case 'write':
      return writeMaster(ask.folder, ask.name, ask.content)
    case 'hash':
      return hashMaster(ask.content, ask.scratch)
    case 'detail':
      return atFile(ask.path, () => readDetail(ask.path, ask.look))
    case 'look':
      return atFile(ask.path, () => readLook(ask.path, ask.look))
  }
})

function figure({ pixels, width, height, cfa, flat, sample }: FiguresAsk): Figured {
  const picture = { pixels: new Float32Array(pixels), width, height, cfa }
  const noise =
    sample && measureNoise(new Float32Array(sample.halves), new Float32Array(sample.pair), sample.frames, sample.method)
  return {
    figures: flat ? flatFigures(picture, noise) : darkFigures(picture, noise),
    thumbnail: pictureOf(picture),
  }
}

function combine(ask: CombineAsk): CombinedStrips {
  const control = new Int32Array(ask.control)
  const strips = Math.ceil(ask.height / ask.rowsPerStrip)
  const readers: ImageReader[] = []
  try {
    for (const path of ask.paths) readers.push(atFile(path, () => openImage(path)))
    const stripper = createStripper(ask, readers)
    for (let strip = claim(control, strips); strip !== null; strip = claim(control, strips)) {
      stripper.run(strip)
      Atomics.add(control, DONE, 1)
    }
    return { leftOut: stripper.leftOut() }
  } finally {
    for (const reader of readers) reader.close()
  }
}

function survey(ask: SurveyAsk): Surveyed[] {
  const control = new Int32Array(ask.control)
  const dark = ask.dark && new Float32Array(ask.dark)
  const done: Surveyed[] = []
  for (let k = claim(control, ask.paths.length); k !== null; k = claim(control, ask.paths.length)) {
    const path = ask.paths[k]
    done.push(
      atFile(path, () => ({
        frame: k,
        sha256: ask.hash ? hashOf(path) : null,
        mean: ask.mean ? meanOf(path, dark) : null,
      })),
    )
    Atomics.add(control, DONE, 1)
  }
  return done
}

const chunk = Buffer.allocUnsafeSlow(1 << 20)

function hashOf(path: string): string {
  const hash = createHash('sha256')
  const fd = openSync(path, 'r')
  try {
    for (let got = readSync(fd, chunk); got > 0; got = readSync(fd, chunk)) hash.update(chunk.subarray(0, got))
  } finally {
    closeSync(fd)
  }
  return hash.digest('hex')
}

/** Mean of frame minus dark over the pixels that are numbers in both, float64. */
function meanOf(path: string, dark: Float32Array | null): number {
  using image = openImage(path)
  const rows = Math.max(1, Math.min(image.height, Math.floor((1 << 18) / image.width)))
  const values = new Float64Array(rows * image.width)
  let sum = 0
  let count = 0
  for (let y = 0; y < image.height; y += rows) {
    const pixels = Math.min(rows, image.height - y) * image.width
    image.readRows(y, pixels / image.width, values)
    for (let i = 0, at = y * image.width; i < pixels; i++, at++) {
      const x = dark ? values[i] - dark[at] : values[i]
      if (x - x !== 0) continue
      sum += x
      count++
    }
  }
  return sum / count
}
