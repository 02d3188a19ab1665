import { Refusal } from '../../../contract/index.ts'
import { defaultSize, writeNight, type NightOptions } from '../../../demo/write-night.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'

const usage = `usage: nightshelf demo DIR [--night DATE] [--seed N] [--size WxH] [--live [--speed X]]

Writes a simulated night into DIR: raw frames in DIR/capture, as capture software would, masters from earlier
nights in DIR/library, and what was planted in DIR/truth.json. Nothing is written outside DIR, and DIR must be new,
empty, or hold this same night already (then only what is missing is written).

  --night DATE   the date on which the night begins, like 2026-11-20 (default: the last night that is over)
  --seed N       another camera body, sky and noise for another N (default 1)
  --size WxH     pixels, even numbers (default ${defaultSize.width}x${defaultSize.height}; the camera's full size is 4144x2822, about 7.5 GB in all)
  --live         frames land one by one, as in the night; stop with Ctrl-C, go on by calling it again
  --speed X      with --live, so many times faster than the night (default 60: a minute of night each second)`

export const demo: Verb = {
  name: 'demo',
  summary: 'writes a simulated night and a library of masters, to try everything on',
  usage,
  options: {
    night: { type: 'string' },
    seed: { type: 'string' },
    size: { type: 'string' },
    live: { type: 'boolean' },
    speed: { type: 'string' },
  },
  async run(call) {
    const [dir, ...more] = call.words
    if (!dir || more.length > 0) throw new UsageError('demo needs one folder to write into: nightshelf demo DIR')
    const options = readOptions(call, Date.now())
    let frames = 0
    try {
      const written = await writeNight(dir, options, call.signal, ({ frame, already, total }) => {
        frames++
        if (options.speed && !already) call.say(`${String(frames).padStart(3)} of ${total}  ${frame.path}`)
      })
      call.answer({ dir: written.dir, library: written.library, frames: written.frames })
      call.say(`${written.frames} frames of the night of ${options.night} are in ${written.dir}`)
      call.say(`Masters from earlier nights are in ${written.library}`)
      call.say(`What was planted, mistakes and all, is told in ${written.truth}`)
      return 0
    } catch (error) {
      if (!call.signal.aborted) throw error
      // Live, stopping is how one leaves; otherwise the night is not whole, and that is said.
      if (options.speed === null)
        throw new Refusal(`Stopped after ${frames} frames; the same command goes on where it stopped.`)
      call.say(`Stopped after ${frames} frames; the same command goes on where it stopped.`)
      return 0
    }
  },
}

function readOptions({ options }: Call, nowMs: number): NightOptions {
  const text = (name: string) => options[name] as string | undefined
  const live = options.live === true
  if (text('speed') !== undefined && !live) throw new UsageError('--speed belongs to --live.')
  return {
    night: readNight(text('night')) ?? lastNight(nowMs),
    seed: readNumber('--seed', text('seed') ?? '1', (n) => Number.isInteger(n) && n >= 0, 'a whole number'),
    ...readSize(text('size')),
    speed: live ? readNumber('--speed', text('speed') ?? '60', (n) => n > 0 && n <= 1e6, 'a number above 0') : null,
  }
}

function readNumber(name: string, text: string, fits: (n: number) => boolean, wanted: string): number {
  const number = text.trim() === '' ? NaN : Number(text)
  if (!fits(number)) throw new UsageError(`${name} needs ${wanted}, not "${text}".`)
  return number
}

function readNight(text: string | undefined): string | null {
  if (text === undefined) return null
  const date = new Date(`${text}T00:00:00Z`)
  if (!/^\d{4}-\d{2}-\d{2}$/.test(text) || Number.isNaN(date.getTime()) || date.toISOString().slice(0, 10) !== text)
    throw new UsageError(`--night needs a date like 2026-11-20, not "${text}".`)
  return text
}

function readSize(text: string | undefined): { width: number; height: number } {
  if (text === undefined) return defaultSize
  const [width, height] = (/^(\d{1,5})x(\d{1,5})$/.exec(text) ?? []).slice(1).map(Number)
  const fits = (side: number | undefined) => side !== undefined && side >= 64 && side <= 10_000 && side % 2 === 0
  if (!fits(width) || !fits(height))
    throw new UsageError(`--size needs two even numbers from 64 to 10000, like 1036x706, not "${text}".`)
  return { width, height }
}

/** The date on which the last night began that is over by now: nothing in the demo lies in the future. */
function lastNight(nowMs: number): string {
  return new Date(nowMs - 36 * 3_600_000).toISOString().slice(0, 10)
}
