import type { Answer, Run } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import { Live } from '../../client/live.svelte.ts'
import type { Troubles } from '../../client/troubles.svelte.ts'
import { lookBack } from '../checks/look-back.ts'
import { floorReason, floorSeries, type FloorSeries } from './floor.ts'

/** What was measured of sensors, and the search for the shortest exposure from which one is steady. */
export class SensorsState {
  readonly #client: Client
  readonly #troubles: Troubles
  readonly #figures: Live<'sensorFigures'>
  readonly #cameras: Live<'cameras'>
  readonly #settings: Live<'settings'>
  #measuring = $state(false)
  #stopping = $state(false)
  #outcome = $state.raw<Answer<'measureSensors'> | null>(null)
  #series = $state.raw<readonly FloorSeries[] | null>(null)
  #looking = $state(false)
  #floor = $state.raw<{ answer: Answer<'findFloor'>; series: FloorSeries } | null>(null)
  #finding = $state(false)
  #kept = $state('')

  constructor(client: Client, troubles: Troubles) {
    this.#client = client
    this.#troubles = troubles
    this.#figures = new Live(client, 'sensorFigures', {}, ['library'])
    this.#cameras = new Live(client, 'cameras', {}, ['settings', 'night'])
    this.#settings = new Live(client, 'settings', {}, ['settings'])
  }

  start(): () => void {
    const offs = [this.#figures, this.#cameras, this.#settings].map((live) => live.start())
    return () => offs.forEach((off) => off())
  }

  /** Undefined until they were asked for. */
  get sensors() {
    return this.#figures.answer?.sensors
  }

  get failure() {
    return this.#figures.failure
  }

  get measuring() {
    return this.#measuring
  }

  get stopping() {
    return this.#stopping
  }

  /** What the last measuring came to; null before the first. */
  get outcome() {
    return this.#outcome
  }

  async measure() {
    this.#measuring = true
    this.#outcome =
      (await this.#troubles.attempt('measuring the sensors', () => this.#client.ask('measureSensors', {}))) ?? null
    await this.#figures.refresh()
    this.#measuring = this.#stopping = false
  }

  async stop() {
    this.#stopping = true
    await this.#troubles.attempt('stopping', () => this.#client.ask('stopMeasuring', {}))
  }

  /** Flats by exposures that tell a floor; null until they were looked for. */
  get series() {
    return this.#series
  }

  get looking() {
    return this.#looking
  }

  async look() {
    this.#looking = true
    const found: Run[] = []
    await this.#troubles.attempt('looking for flats', () => lookBack(this.#client, (runs) => void found.push(...runs)))
    this.#series = floorSeries(found)
    this.#looking = false
  }

  get floor() {
    return this.#floor
  }

  get finding() {
    return this.#finding
  }

  async findFloor(series: FloorSeries) {
    this.#finding = true
    this.#kept = ''
    const answer = await this.#troubles.attempt('finding the floor', () =>
      this.#client.ask('findFloor', { frames: series.frames }),
    )
    this.#floor = answer ? { answer, series } : null
    this.#finding = false
  }

  /** The rules that hold for a camera, and all cameras that share them; null until they are known. */
  rulesOf(camera: string) {
    const cameras = this.#cameras.answer?.cameras
    const classes = this.#settings.answer?.settings.sensorRules
    if (!cameras || !classes) return null
    const chosen = cameras.find((one) => one.camera === camera)?.class ?? 'glow'
    const rules = classes.find((one) => one.rules.class === chosen)?.rules
    const sharing = cameras.filter((one) => one.class === chosen).map((one) => one.camera)
    return rules ? { rules, sharing } : null
  }

  /** What was put into the rules, as a sentence; empty before. */
  get kept() {
    return this.#kept
  }

  /** Makes the floor that was found the rule, with its reason. */
  async keepFloor() {
    const found = this.#floor
    const of = found && this.rulesOf(found.series.camera)
    const floorS = found?.answer.floorS ?? null
    if (!of || floorS === null) return
    const values = { floorS: { value: floorS, reason: floorReason(floorS, found.series) } }
    const done = await this.#troubles.attempt('keeping the rule', () =>
      this.#client.ask('setSensorRules', { class: of.rules.class, values }),
    )
    if (!done) return
    await this.#settings.refresh()
    this.#kept = 'It is in the rules, with its reason. There it can be taken back.'
  }
}
