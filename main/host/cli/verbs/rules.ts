import { sensorRulesSchema, type Answer, type Camera, type SensorRules } from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { wrap } from '../words.ts'

const classes = sensorRulesSchema.shape.class.options

export const rules: Verb = {
  name: 'rules',
  summary: 'what flats and calibration frames are judged by, class by class, and why',
  usage: [
    'usage: nightshelf rules [--json]                                    every class of sensors, each value with its reason',
    '       nightshelf rules set CLASS RULE VALUE [--because T] [--json] another value, with the reason for it',
    '       nightshelf rules reset CLASS [--json]                        as delivered',
    '       nightshelf rules camera CAMERA CLASS [--json]                which class a camera belongs to, by its name in headers',
    '',
    `  CLASS   ${classes.join(', ')}; a camera that nobody spoke of is taken for glow, the careful one`,
    '  RULE    as "rules" names it; VALUE is a number, or yes or no',
  ].join('\n'),
  options: { because: { type: 'string' } },
  run: async (call) => {
    const act = actionOf(call)
    const engine = await openEngine({ dataDir: call.dataDir })
    try {
      await act(engine)
      const { sensorRules } = (await engine.ask('settings', {})).settings
      const { cameras } = await engine.ask('cameras', {})
      call.answer({ sensorRules, cameras: cameras.map(({ camera, class: chosen }) => ({ camera, class: chosen })) })
      call.say(sensorRules.map((one) => tell(one, cameras)).join('\n\n'))
      return 0
    } finally {
      await engine.close()
    }
  },
}

function actionOf({ words, options }: Call): (engine: Engine) => Promise<unknown> {
  const [what, ...rest] = words
  const reason = options.because as string | undefined
  if (reason !== undefined && what !== 'set') throw new UsageError('--because belongs to "rules set".')
  if (what === undefined) return async () => {}
  if (what === 'set' && rest.length === 3) {
    const [chosen, rule, value] = rest
    const values = { [rule]: { value: readValue(value), reason } }
    const ask = { class: readClass(chosen), values }
    return (engine) => engine.ask('setSensorRules', ask)
  }
  if (what === 'reset' && rest.length === 1) {
    const chosen = readClass(rest[0])
    return (engine) => engine.ask('resetSensorRules', { class: chosen })
  }
  if (what === 'camera' && rest.length === 2) {
    const [camera, chosen] = [rest[0], readClass(rest[1])]
    return (engine) => engine.ask('setCameraClass', { camera, class: chosen })
  }
  throw new UsageError('Say rules set CLASS RULE VALUE, rules reset CLASS, or rules camera CAMERA CLASS.')
}

function readClass(text: string): SensorRules['class'] {
  const chosen = classes.find((one) => one === text)
  if (!chosen) throw new UsageError(`A class is one of ${classes.join(', ')}, not "${text}".`)
  return chosen
}

function readValue(text: string): number | boolean {
  if (text === 'yes' || text === 'no') return text === 'yes'
  const value = Number(text.replace(',', '.'))
  if (text.trim() === '' || !Number.isFinite(value))
    throw new UsageError(`A value is a number, yes or no, not "${text}".`)
  return value
}

type Told = Answer<'settings'>['settings']['sensorRules'][number]

function tell({ rules: { class: chosen, name, ...values }, edited }: Told, cameras: readonly Camera[]): string {
  const own = cameras.filter((camera) => camera.class === chosen).map(({ camera }) => camera)
  const title = `${chosen}: ${name}${edited ? ', edited' : ''}${own.length ? `: ${own.join(', ')}` : ''}`
  const lines = Object.entries(values).map(([rule, { value, reason, source }]) => {
    const said = typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value)
    return [`  ${rule.padEnd(22)} ${said}`, wrap(`${reason} (${source})`, '      ')].join('\n')
  })
  return [title, ...lines].join('\n')
}
