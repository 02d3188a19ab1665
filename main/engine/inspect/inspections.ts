import {
  Refusal,
  type Answer,
  type Asked,
  type DarkCheckAnswer,
  type FlatCheckAnswer,
  type Master,
  type ProofAnswer,
} from '../../contract/index.ts'
import { defaultFlatLimits } from '../../inspect/check-flat.ts'
import { createInspector, type Inspector } from '../../inspect/inspector.ts'
import { temperatureOf } from '../../match/tolerance.ts'
import { sayKind, saySettings, sayTemp } from '../../match/wording.ts'
import { FileProblem } from '../../measure/crew.ts'
import { checksOfMaster } from '../../../db/tables/checks.ts'
import { PROGRAM } from '../builds/program.ts'
import { instant } from '../clock.ts'
import { tolerancesOf } from '../settings.ts'
import type { Core } from '../core.ts'
import { chooseMaster, darkFlatOf, fileOf, flatFileOf, type Choice } from './choose.ts'
import { freshFrame, type Fresh } from './fresh.ts'
import { proofPath } from './out-path.ts'
import { findSensorFloor } from './sensor-floor.ts'
import { measureSensors } from './sensors.ts'
import { epochOf, keepCheck, storePicture } from './record.ts'

/** Checks and proofs: chooses the masters, lets a thread do the pixels, keeps what comes out. Nothing else waits for it. */
export class Inspections {
  readonly #core: Core
  #inspector: Inspector | null = null
  /** The measuring under way. */
  #measuring: { stopped: boolean } | null = null

  constructor(core: Core) {
    this.#core = core
  }

  /** @throws Refusal where the frame is no flat, no master should match, or its dark flat is not there */
  async checkFlat({ master: wanted, ...which }: Asked<'checkFlat'>): Promise<FlatCheckAnswer> {
    const core = this.#core
    const fresh = freshFrame(core, which)
    refuseKind(fresh, ['flat', 'unknown'], 'one fresh flat')
    const { master, forced } = chooseMaster(core, fresh, 'flat', wanted)
    const darkFlat = darkFlatOf(core, fresh)
    const { checkLocalFraction, checkBlocksFraction } = tolerancesOf(core.db)
    const ask = {
      fresh: { path: fresh.frame.path },
      darkFlat: fileOf(darkFlat),
      master: flatFileOf(core, fresh, master),
      cfa: fresh.frame.cfa !== null,
      limits: { ...defaultFlatLimits, local: checkLocalFraction, most: checkBlocksFraction },
    }
    const { check, map } = await this.#work('check', 'Checking a flat', (signal) => this.inspector.flat(ask, signal))
    const { holds, text, findings, figures } = check
    const answer = {
      ...about(core, fresh, { master, forced }),
      kind: 'flat' as const,
      holds,
      text,
      findings,
      figures: { ...figures, darkFlat: darkFlat.id },
    }
    const id = keepCheck(core, fresh, { kind: 'flat', master: master.id, holds: forced ? null : holds, result: answer })
    storePicture(core.dataDir, id, 'map.png', map)
    return { id, ...answer }
  }

  /** @throws Refusal where the frame is no dark, or no master should match */
  async checkDark({ master: wanted, ...which }: Asked<'checkDark'>): Promise<DarkCheckAnswer> {
    const core = this.#core
    const fresh = freshFrame(core, which)
    refuseKind(fresh, ['dark', 'darkFlat', 'unknown'], 'one fresh dark')
    const { master, forced } = chooseMaster(core, fresh, 'dark', wanted)
    const ask = { fresh: { path: fresh.frame.path }, master: fileOf(master), cfa: fresh.frame.cfa !== null }
    const { check, map } = await this.#work('check', 'Checking a dark', (signal) => this.inspector.dark(ask, signal))
    const { holds, findings, figures } = check
    const answer = {
      ...about(core, fresh, { master, forced }),
      kind: 'dark' as const,
      holds,
      text: holds ? check.text : `${check.text}${sayWarmer(fresh, master)}`,
      findings,
      figures,
    }
    const id = keepCheck(core, fresh, { kind: 'dark', master: master.id, holds: forced ? null : holds, result: answer })
    storePicture(core.dataDir, id, 'map.png', map)
    return { id, ...answer }
  }

  /** @throws Refusal where the frame is no light, a master is lacking, or nothing may be written there */
  async proof({ masters, out, ...which }: Asked<'proof'>): Promise<ProofAnswer> {
    const core = this.#core
    const fresh = freshFrame(core, which)
    refuseKind(fresh, ['light', 'unknown'], 'a light')
    const light: Fresh = { ...fresh, frame: { ...fresh.frame, kind: 'light' } }
    const chosen = sortWanted(core, masters)
    const dark = chooseMaster(core, light, 'dark', chosen.dark)
    const flat = chooseMaster(core, light, 'flat', chosen.flat)
    const path = out === undefined ? null : proofPath(core, out, light.frame.path)
    const flatFile = flatFileOf(core, light, flat.master)
    const file =
      path === null
        ? null
        : {
            out: path,
            program: PROGRAM,
            madeAt: instant(core.clock),
            history: historyOf(dark, flat, flatFile.less?.path ?? null),
          }
    const ask = {
      light: { path: light.frame.path },
      dark: fileOf(dark.master),
      flat: flatFile,
      cfa: light.frame.cfa,
      file,
    }
    const { before, after, text, figures } = await this.#work('proof', 'Calibrating one light', (signal) =>
      this.inspector.proof(ask, signal),
    )
    const answer = {
      kind: 'proof' as const,
      text,
      at: light.at,
      path: light.frame.path,
      out: path,
      dark: dark.master.id,
      flat: flat.master.id,
      forced: dark.forced || flat.forced,
      figures,
    }
    const id = keepCheck(core, light, { kind: 'proof', master: dark.master.id, holds: null, result: answer })
    storePicture(core.dataDir, id, 'before.png', before)
    storePicture(core.dataDir, id, 'after.png', after)
    return { id, ...answer }
  }

  /** Newest first. */
  checksOf(master: number): Answer<'checksOf'>['checks'] {
    return checksOfMaster(this.#core.db, master)
      .map(
        ({ id, result, undoneAt }) =>
          ({ id, ...(JSON.parse(result) as object), undoneAt }) as Answer<'checksOf'>['checks'][number],
      )
      .reverse()
  }

  async measureSensors(): Promise<Answer<'measureSensors'>> {
    this.#measuring = { stopped: false }
    const measuring = this.#measuring
    try {
      return await this.#work('sensors', 'Measuring sensors', (signal, tell) =>
        measureSensors(this.#core, this.inspector, signal, { isStopped: () => measuring.stopped, tell }),
      )
    } finally {
      if (this.#measuring === measuring) this.#measuring = null
    }
  }

  /** Ends the measuring after the setting that it is at. */
  stopMeasuring(): { stopped: boolean } {
    if (this.#measuring) this.#measuring.stopped = true
    return { stopped: this.#measuring !== null }
  }

  findFloor(ask: Asked<'findFloor'>): Promise<Answer<'findFloor'>> {
    return this.#work('floor', "Finding the sensor's floor", (signal, tell) =>
      findSensorFloor(this.#core, this.inspector, ask, signal, tell),
    )
  }

  get inspector(): Inspector {
    return (this.#inspector ??= createInspector())
  }

  async close(): Promise<void> {
    await this.#inspector?.close()
  }

  async #work<T>(
    job: string,
    title: string,
    work: (signal: AbortSignal, tell: (done: number, total: number) => void) => Promise<T>,
  ): Promise<T> {
    const beganMs = performance.now()
    let [at, of] = [0, 1]
    const tell = (state: 'running' | 'done' | 'failed', text: string | null) =>
      this.#core.tell({
        event: 'progress',
        job,
        title,
        done: at,
        total: of,
        leftS: state === 'running' && at > 0 ? ((performance.now() - beganMs) / 1000 / at) * (of - at) : null,
        state,
        text,
      })
    tell('running', null)
    try {
      const answer = await work(this.#core.closing, (done, total) => {
        ;[at, of] = [done, total]
        tell('running', null)
      })
      at = of
      tell('done', null)
      return answer
    } catch (error) {
      const refusal = error instanceof FileProblem ? new Refusal(`${error.path}: ${error.message}`) : error
      tell('failed', refusal instanceof Refusal ? refusal.message : null)
      throw refusal
    }
  }
}

function refuseKind({ frame }: Fresh, kinds: string[], wanted: string): void {
  if (!kinds.includes(frame.kind)) throw new Refusal(`${frame.path} is a ${sayKind(frame.kind)}: name ${wanted}.`)
}

/** A dark that was warmer, if only within what still matches, glows and gathers more: that alone condemns no master. */
function sayWarmer({ frame }: Fresh, master: Master): string {
  const [own, its] = [temperatureOf(frame), temperatureOf(master)]
  if (own === null || its === null || Math.abs(own - its) < 0.15) return ''
  const apart = `${Math.abs(own - its).toFixed(1)} °C ${own > its ? 'warmer' : 'colder'}`
  return ` This frame was ${apart} than the master: first check another at ${sayTemp(its)}.`
}

const about = (core: Core, fresh: Fresh, { master, forced }: Choice) => ({
  at: fresh.at,
  epoch: epochOf(core, fresh),
  path: fresh.frame.path,
  master: master.id,
  forced,
})

/** Which of the masters that a person named is the dark, and which the flat. */
function sortWanted(core: Core, ids: readonly number[]): { dark?: number; flat?: number } {
  const chosen: { dark?: number; flat?: number } = {}
  for (const id of ids) {
    const master = core.shelf.masters.find((one) => one.id === id)
    if (!master) throw new Refusal(`There is no master ${id} in the library.`)
    const as = master.kind === 'flat' ? 'flat' : 'dark'
    if (chosen[as] !== undefined) throw new Refusal(`Masters ${chosen[as]} and ${id} are both ${as}s: name one.`)
    chosen[as] = id
  }
  return chosen
}

function historyOf(dark: Choice, flat: Choice, less: string | null): string[] {
  const say = ({ master, forced }: Choice) =>
    `${sayKind(master.kind)} master ${master.path} (${saySettings(master as Master)}), SHA-256 ${master.sha256}${forced ? ', chosen by hand though it does not match' : ''}`
  return [
    '(light - dark) / (flat / mean of flat), each colour of the filter array by its own mean, in float64; nothing clipped.',
    `Subtracted: ${say(dark)}.`,
    `Divided by: ${say(flat)}${less ? `, less its dark flat ${less}` : ''}.`,
  ]
}
