import { resolve } from 'node:path'
import { z } from 'zod'
import { figuresSchema, type Figures } from '../../../contract/index.ts'
import { FitsError } from '../../../fits/error.ts'
import { readFitsInfo } from '../../../fits/file.ts'
import { describeFrame } from '../../../frame/describe.ts'
import { createMeasurer, FileProblem, type Measurer } from '../../../measure/measurer.ts'
import { progressLine } from '../progress.ts'
import { UsageError, type Verb } from '../verb.ts'

/** The document that `measure --json` prints. */
export const measureDocument = z.object({
  frames: z.array(z.object({ path: z.string(), ...figuresSchema.shape })),
  problems: z.array(z.object({ path: z.string(), reason: z.string() })),
})
type Document = z.infer<typeof measureDocument>

export const measure: Verb = {
  name: 'measure',
  summary: 'figures of the pixels of frames',
  usage: [
    'usage: nightshelf measure FILE… [--json]',
    '',
    '  Levels (median, mean, standard deviation, least, most), clipped pixels and noise of each frame, in ADU,',
    '  and median and mean of each colour where the sensor has a colour filter array. Nothing is logged.',
    '',
    '  Noise is 1.4826 times the median absolute deviation of differences between neighbours of one colour,',
    '  over the square root of 2: stars and gradients do not count.',
    '',
    'Exit code 1 if a file could not be measured; the others are measured all the same.',
  ].join('\n'),
  options: {},
  run: async ({ words, json, say, answer, complain, signal }) => {
    if (words.length === 0) throw new UsageError('measure needs the files to be measured.')
    const progress = progressLine(json)
    const measurer = createMeasurer()
    const document: Document = { frames: [], problems: [] }
    try {
      let done = 0
      const outcomes = await Promise.all(
        words.map(async (word) => {
          const outcome = await measureOne(measurer, resolve(word), signal)
          progress.show('Measuring', ++done, words.length)
          return outcome
        }),
      )
      progress.clear()
      for (const outcome of outcomes)
        if ('reason' in outcome) document.problems.push(outcome)
        else document.frames.push(outcome)
      answer(measureDocument.parse(document))
      for (const frame of document.frames) say(tell(frame))
      for (const { path, reason } of document.problems) complain(`${path}: ${reason}`)
      return document.problems.length ? 1 : 0
    } finally {
      progress.clear()
      await measurer.close()
    }
  },
}

async function measureOne(
  measurer: Measurer,
  path: string,
  signal: AbortSignal,
): Promise<Document['frames'][number] | Document['problems'][number]> {
  try {
    const { figures } = await measurer.measure(path, { cfa: cfaOf(path) }, signal)
    return { path, ...figures }
  } catch (error) {
    if (error instanceof FileProblem || error instanceof FitsError) return { path, reason: error.message }
    throw error
  }
}

/** The colour filter array as the header tells it, in the order of the stored rows. */
function cfaOf(path: string): string | null {
  const { header, image } = readFitsInfo(path)
  const file = { path, mtimeMs: 0, width: image?.width ?? null, height: image?.height ?? null }
  return describeFrame(header, file, { zone: 'UTC', rig: null }).cfa
}

function tell({ path, ...figures }: Figures & { path: string }): string {
  const { width, height, median, mean, sd, min, max, clippedLow, clippedHigh, noise, channels } = figures
  const colours = channels
    ? Object.entries(channels).map(([name, { median: m, mean: a }]) => `  ${name} median ${adu(m)}, mean ${adu(a)}`)
    : []
  return [
    path,
    `  ${width} × ${height} px, median ${adu(median)}, mean ${adu(mean)}, standard deviation ${adu(sd)}, noise ${adu(noise)} ADU`,
    `  from ${adu(min)} to ${adu(max)} ADU; ${clippedLow} px clipped at the bottom, ${clippedHigh} at the top`,
    ...colours,
  ].join('\n')
}

const adu = (value: number) => String(Number(value.toFixed(2)))
