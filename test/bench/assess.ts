import { performance } from 'node:perf_hooks'
import { defaultTolerances, type Frame } from '../../main/contract/index.ts'
import { assess } from '../../main/rules/assess.ts'
import { sensorRulesFor } from '../../main/rules/sensor-rules.ts'
import { aFrame, aMaster, aMasterFlat } from '../match/samples.ts'

/**
 * One assessment of a night: it runs after every frame that lands, so it must cost nothing beside the frame. Eight filters take
 * turns on two rigs, with a library of 2 000 masters. Run with Node 24: `node test/bench/assess.ts`.
 */
const filters = ['L', 'R', 'G', 'B', 'Ha', 'OIII', 'SII', 'dual-band']

const nightOf = (count: number): Frame[] =>
  Array.from({ length: count }, (_, i) =>
    aFrame({
      id: i + 1,
      rig: i % 2 ? 'Roof' : 'Fell End',
      filter: filters[(i >> 3) % 8],
      exposureS: 30 * (1 + ((i >> 3) % 8)),
      sensorTempC: -10 + ((i * 7) % 5) / 10 - 0.2,
      startedAt: new Date(Date.parse('2026-11-20T17:30:00Z') + i * (43_200_000 / count)).toISOString(),
    }),
  )

const masters = Array.from({ length: 2000 }, (_, i) =>
  i % 3
    ? aMaster({ id: i + 1, exposureS: 30 * (1 + (i % 20)), gain: (i % 7) * 30 })
    : aMasterFlat({ id: i + 1, filter: filters[i % 7], gain: (i % 5) * 30 }),
)

for (const count of [300, 1000, 10_000]) {
  const frames = nightOf(count)
  const now = '2026-11-21T05:30:00.000Z'
  const match = { now, tolerances: defaultTolerances, sensorRules: sensorRulesFor({}), changes: [] }
  const times: number[] = []
  const cpu: number[] = []
  for (let round = 0; round < 9; round++) {
    const start = performance.now()
    const before = process.cpuUsage()
    assess({ night: '2026-11-20', now, frames, masters, match })
    const { user, system } = process.cpuUsage(before)
    times.push(performance.now() - start)
    cpu.push((user + system) / 1000)
  }
  const median = (values: number[]) => values.sort((a, b) => a - b)[values.length >> 1].toFixed(1)
  console.log(`${count} frames, 2 000 masters: median ${median(times)} ms (processor ${median(cpu)} ms)`)
}
