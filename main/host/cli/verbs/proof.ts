import { requests, type ProofAnswer } from '../../../contract/index.ts'
import { openEngine } from '../../../engine/open.ts'
import { UsageError, type Verb } from '../verb.ts'
import { wrap } from '../words.ts'
import { readId } from './ids.ts'

export const proof: Verb = {
  name: 'proof',
  summary: 'calibrate one light with its masters, to see that the set works',
  usage: [
    'usage: nightshelf proof LIGHT --out FILE [--master ID]… [--json]',
    '',
    '  (light - dark) / (flat / mean of flat), each colour of the filter array by its own mean, as float32 FITS. Nothing is',
    '  clipped: pixels below zero are a fact of noise. The figures say what is left of glow, vignetting, dust and hot pixels.',
    '',
    '  --out FILE   where to write it; never among the frames of the camera, and over nothing but an earlier proof',
    '  --master ID  use this dark or flat, whether it matches or not; may stand twice',
    '',
    'Exit code 1 if a master is lacking or the file cannot be written.',
  ].join('\n'),
  options: { out: { type: 'string' }, master: { type: 'string', multiple: true } },
  run: async ({ options, words, dataDir, answer, say, signal }) => {
    const [path, ...more] = words
    if (!path || more.length) throw new UsageError('proof takes one light.')
    if (typeof options.out !== 'string' || !options.out)
      throw new UsageError('proof needs --out FILE: where to write it.')
    const masters = ((options.master ?? []) as string[]).map((id) => readId('--master', id)!)
    if (masters.length > 2) throw new UsageError('proof takes one dark and one flat.')
    const engine = await openEngine({ dataDir })
    const stop = () => void engine.close()
    signal.addEventListener('abort', stop)
    try {
      const ask = { path, out: options.out, masters }
      const document = requests.proof.output.parse(await engine.ask('proof', ask))
      const picture = async (view: 'before.png' | 'after.png') =>
        (await engine.ask('file', { of: 'check', id: document.id, view })).path
      const pictures = { before: await picture('before.png'), after: await picture('after.png') }
      answer({ ...document, pictures })
      say(tell(document))
      say(`Pictures, one stretch: ${pictures.before} and ${pictures.after}`)
      return 0
    } finally {
      signal.removeEventListener('abort', stop)
      await engine.close()
    }
  },
}

function tell({ out, dark, flat, text, forced, figures: { before, after } }: ProofAnswer): string {
  const row = (name: string, a: number | null, b: number | null, unit: string, digits = 1) =>
    a === null && b === null
      ? []
      : [`  ${name.padEnd(32)}${say(a, digits).padStart(10)}${say(b, digits).padStart(12)}  ${unit}`]
  const percent = (value: number | null) => (value === null ? null : 100 * value)
  return [
    wrap(text, ''),
    '',
    `  ${''.padEnd(32)}${'before'.padStart(10)}${'after'.padStart(12)}`,
    ...row('background, corner to corner', before.slopeAdu, after.slopeAdu, 'ADU'),
    ...row('glow at its peak', before.glowAdu, after.glowAdu, 'ADU'),
    ...row('glow over noise', before.glowOverNoise, after.glowOverNoise, '', 2),
    ...row('where the dark glows', before.glowRegion?.adu ?? null, after.glowRegion?.adu ?? null, 'ADU'),
    ...row('  over noise', before.glowRegion?.overNoise ?? null, after.glowRegion?.overNoise ?? null, '', 2),
    ...row('vignetting left', percent(before.vignettingLeft), percent(after.vignettingLeft), '%', 0),
    ...row('dust shadows left', percent(before.shadowsLeft), percent(after.shadowsLeft), '%', 0),
    ...row('hot pixels', before.hotPixels, after.hotPixels, '', 0),
    ...row('mottle at 50 to 300 px', before.mottleAdu, after.mottleAdu, 'ADU', 2),
    ...(['R', 'G', 'B'] as const).flatMap((channel) =>
      row(
        `  in ${COLOURS[channel]} alone`,
        before.mottleByChannel?.[channel] ?? null,
        after.mottleByChannel?.[channel] ?? null,
        'ADU',
        2,
      ),
    ),
    ...row('pixels below zero', before.belowZero, after.belowZero, '', 0),
    ...row('noise of one pixel', before.noiseAdu, after.noiseAdu, 'ADU'),
    '',
    `Dark: master ${dark}. Flat: master ${flat}.${forced ? ' Chosen by hand: not what should match.' : ''}`,
    ...(out === null ? [] : [`Written to ${out}.`]),
  ].join('\n')
}

const COLOURS = { R: 'red', G: 'green', B: 'blue' }

const say = (value: number | null, digits: number) => (value === null ? '?' : value.toFixed(digits))
