import { performance } from 'node:perf_hooks'
import { defaultTolerances, type Master } from '../../main/contract/index.ts'
import type { Judged, MatchContext } from '../../main/match/context.ts'
import { createJudge } from '../../main/match/judge.ts'
import { sensorRulesFor } from '../../main/rules/sensor-rules.ts'
import { aLight, aMaster } from '../match/samples.ts'

/**
 * One master added to 100 000 logged lights: all verdicts anew, against a library of 2 000 masters (index built each time).
 * `plain`: a tidy library that covers nearly all. `hard`: temperatures measured to 0.01 °C
 * about three set points, three rotator angles, a train change a month; two thirds of the lights have no match, so that the
 * nearest master must be looked for.
 * Run with Node 24: `node test/bench/match.ts`. Processor time stands beside the clock's, for a busy machine. Bar: 500 ms, stretch 100 ms.
 */
const gains = [0, 100, 120, 200]
const exposures = [5, 10, 30, 60, 120, 180, 240, 300, 600, 900]
const filters = ['L', 'R', 'G', 'B', 'Ha', 'OIII', 'SII', 'dual-band']

/** Small, seeded, even enough: the numbers must be the same in every run. */
function dice(seed: number) {
  let state = seed
  return (n: number) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return Math.floor((state / 2 ** 32) * n)
  }
}

const day = (n: number) => new Date(Date.parse('2024-01-01T00:00:00Z') + n * 86_400_000).toISOString()

function library(count: number): Master[] {
  const roll = dice(7)
  return Array.from({ length: count }, (_, i) => {
    const common = { id: i + 1, gain: gains[roll(4)], offset: 30, madeAt: day(roll(1000)), frames: 10 + roll(40) }
    return i % 3 === 0
      ? aMaster({
          ...common,
          kind: 'flat',
          filter: filters[roll(8)],
          exposureS: 3 + roll(5),
          rig: 'Rig',
          mechAngleDeg: null,
        })
      : aMaster({
          ...common,
          kind: i % 3 === 1 ? 'dark' : 'darkFlat',
          exposureS: exposures[roll(10)],
          sensorTempC: -20 + roll(5) * 5,
        })
  })
}

/** 400 nights of 250 lights: eight filters (three angles where hard) take turns; each filter has its exposure and gain. */
function lights(count: number, hard: boolean): Judged[] {
  const roll = dice(11)
  return Array.from({ length: count }, (_, i) => {
    const night = Math.floor(i / 250)
    const filter = Math.floor(i / 5) % 8
    const exposureS = exposures[(filter + night) % 10] + (hard && filter < 3 ? 7 : 0)
    return aLight({
      id: i,
      night: day(night).slice(0, 10),
      startedAt: new Date(Date.parse(day(night)) + 20 * 3_600_000 + (i % 250) * 130_000).toISOString(),
      gain: gains[filter % 4],
      filter: filters[filter],
      exposureS,
      sensorTempC: hard ? -20 + (night % 3) * 10 - 0.2 + roll(40) / 100 : -10.2 + roll(5) / 10,
      mechAngleDeg: hard ? (filter % 3) * 45 : null,
      rig: 'Rig',
    })
  })
}

const changes = Array.from({ length: 12 }, (_, i) => ({
  id: i + 1,
  rig: 'Rig',
  scope: 'train' as const,
  filter: null,
  at: day(i * 30),
  text: '',
  closes: false,
  undoneAt: null,
}))

const median = (values: number[]) => values.sort((a, b) => a - b)[values.length >> 1]

for (const hard of [false, true]) {
  const context: MatchContext = {
    now: day(1000),
    tolerances: defaultTolerances,
    sensorRules: sensorRulesFor({}),
    changes: hard ? changes : [],
  }
  const frames = lights(100_000, hard)
  const masters = library(2000)
  const times: number[] = []
  const cpu: number[] = []
  let matched = 0
  for (let round = 0; round < 7; round++) {
    const start = performance.now()
    const cpuStart = process.cpuUsage()
    const judge = createJudge([...masters, aMaster({ id: 9000 + round, kind: 'dark' })], context)
    matched = 0
    for (const frame of frames) if (judge(frame).dark?.verdict === 'matched') matched++
    times.push(performance.now() - start)
    const { user, system } = process.cpuUsage(cpuStart)
    cpu.push((user + system) / 1000)
  }
  console.log(
    `${hard ? 'hard ' : 'plain'}: 100 000 lights, 2 001 masters: first ${times[0].toFixed(0)} ms, median ${median([...times]).toFixed(0)} ms ` +
      `(processor ${median(cpu).toFixed(0)} ms), ` +
      `${matched} darks matched`,
  )
}
