import { measureSensor } from '../../../inspect/sensor-pairs.ts'
import type { Estimate } from '../../../inspect/statistics.ts'
import { UsageError, type Verb } from '../verb.ts'

export const sensor: Verb = {
  name: 'sensor',
  summary: 'gain and noise of a sensor, from flats and darks taken in pairs',
  usage: [
    'usage: nightshelf sensor --flats A B [C D …] --darks A B [C D …] [--json]',
    '',
    '  Photon transfer after EMVA 1288: two flats and two darks of one exposure give gain and dark noise;',
    '  three or more exposures, up to saturation, also linearity, full well and dark current.',
    '  All frames with the same camera, gain, offset, readout and temperature; the light source steady.',
  ].join('\n'),
  options: { flats: { type: 'string', multiple: true }, darks: { type: 'string', multiple: true } },
  run: async ({ options, words, say, answer }) => {
    const flats = (options.flats ?? []) as string[]
    const darks = (options.darks ?? []) as string[]
    if (words.length || !flats.length || !darks.length)
      throw new UsageError('sensor needs flats and darks: --flats A B --darks C D.')
    const report = measureSensor(flats, darks)
    answer(report)
    say(`Gain   ${inWords(report.ePerDn, 'e-/ADU')}   (K ${inWords(report.gainDnPerE, 'ADU/e-')})`)
    say(`Noise  ${inWords(report.temporalDarkNoiseE, 'e-')} in the dark (${report.temporalDarkNoiseDn.toFixed(2)} ADU)`)
    if (report.saturationE !== null) say(`Full   ${Math.round(report.saturationE)} e- where the levels saturate`)
    if (report.linearityErrorPercent)
      say(
        `Linear within ${report.linearityErrorPercent.min.toFixed(2)} to +${report.linearityErrorPercent.max.toFixed(2)} %`,
      )
    if (report.darkCurrentEPerS) say(`Dark   ${inWords(report.darkCurrentEPerS, 'e-/s')}`)
    return 0
  },
}

const inWords = ({ value, ci95: [low, high] }: Estimate, unit: string) =>
  `${value.toPrecision(4)} ${unit} (95 %: ${low.toPrecision(4)} to ${high.toPrecision(4)})`
