import { z } from 'zod'
import { frameSchema } from '../../../contract/index.ts'
import { openEngine } from '../../../engine/open.ts'
import { UsageError, type Verb } from '../verb.ts'
import { progressLine } from '../progress.ts'
import { count } from '../words.ts'

/** The document that `log --json` prints. */
export const logDocument = z.object({
  frames: z.array(frameSchema),
  summary: z.object({
    seen: z.number(),
    logged: z.number(),
    amended: z.number(),
    already: z.number(),
    unreadable: z.number(),
  }),
  problems: z.array(z.object({ path: z.string(), reason: z.string() })),
  /** Masters among the raw frames: take them in with `library add`. */
  offered: z.array(z.string()),
})

export const log: Verb = {
  name: 'log',
  summary: 'log every frame below a folder, each exactly once',
  usage: [
    'usage: nightshelf log DIR… [--figures] [--json]',
    '',
    '  Reads the header of each FITS file below these folders and logs it; running it again logs nothing twice.',
    '  Nothing is ever written into the folders.',
    '',
    '  --figures   wait for the figures of the pixels and the hash of each file, too',
    '',
    'Exit code 1 if a file could not be read or is broken; the others are logged all the same.',
  ].join('\n'),
  options: { figures: { type: 'boolean' } },
  run: async ({ words, dataDir, options, json, say, answer, complain, signal }) => {
    if (words.length === 0) throw new UsageError('log needs the folder that holds the frames.')
    const progress = progressLine(json)
    const engine = await openEngine({ dataDir })
    try {
      const report = await engine.log(words, {
        signal,
        onProgress: (done, total) => progress.show('Logging', done, total),
      })
      if (options.figures) {
        const ids = [...new Set(report.files.map((file) => file.id))]
        await engine.measure(ids, { signal, onProgress: (done, total) => progress.show('Measuring', done, total) })
      }
      progress.clear()
      const { summary, problems } = report
      const offered = report.files.filter((file) => file.integrated).map((file) => file.path)
      if (json) answer(logDocument.parse({ frames: engine.framesOf(report), summary, problems, offered }))
      say(sentence(summary))
      if (offered.length)
        say(
          `${count(offered.length, 'file is a master', 'files are masters')}, no raw frames; take them in with "library add".`,
        )
      for (const { path, reason } of problems) complain(`${path}: ${reason}`)
      return problems.length ? 1 : 0
    } finally {
      progress.clear()
      await engine.close()
    }
  },
}

function sentence({ seen, logged, amended, already, unreadable }: z.infer<typeof logDocument>['summary']): string {
  const parts = [`${logged} new`]
  if (amended) parts.push(`${amended} rewritten since`)
  if (already) parts.push(`${already} logged before`)
  if (unreadable) parts.push(`${unreadable} that cannot be read`)
  return `${count(seen, 'file', 'files')} seen: ${parts.join(', ')}.`
}
