import type { Frame, Master } from '../../../main/contract/index.ts'
import { age, counted } from '../../parts/format.ts'
import { fieldWord } from '../../parts/labels.ts'
import { settingValue } from '../../parts/settings.ts'

/** Masters that a person may set before a light or a check frame whatever the match says, to see what they do to it. */

export type Wanted = 'dark' | 'flat'
type Light = Pick<
  Frame,
  'camera' | 'width' | 'height' | 'gain' | 'offset' | 'exposureS' | 'setTempC' | 'sensorTempC' | 'filter' | 'binning'
>
const MOST = 8

const tempOf = (of: Pick<Light, 'setTempC' | 'sensorTempC'>) => of.sensorTempC ?? of.setTempC
const differ = (a: unknown, b: unknown) => (a ?? null) !== (b ?? null)

/** The settings in which a master is another than the light, each in words: "offset 50, the frame has 30". */
export function differencesOf(master: Light, light: Light, wanted: Wanted): string[] {
  const fields: (keyof Light)[] = []
  for (const field of ['gain', 'offset', 'binning'] as const)
    if (differ(master[field], light[field])) fields.push(field)
  const said = (field: keyof Light, own = master[field], other = light[field]) =>
    `${fieldWord(field)} ${settingValue(field, own) ?? 'not known'}, the frame has ${settingValue(field, other) ?? 'not known'}`
  const parts = fields.map((field) => said(field))
  if (wanted === 'flat') return master.filter === light.filter ? parts : [said('filter'), ...parts]
  const [a, b] = [master.exposureS ?? NaN, light.exposureS ?? NaN]
  if (!(Math.abs(a - b) <= Math.max(0.01, 0.001 * b))) parts.unshift(said('exposureS'))
  const [own, other] = [tempOf(master), tempOf(light)]
  if (own === null || other === null || Math.abs(own - other) > 0.5) parts.push(said('sensorTempC', own, other))
  return parts
}

/** "The dark is not this frame’s: offset 50, the frame has 30."; null where nothing is known against it. */
export function warningOf(masters: readonly Master[] | null, id: number, light: Light, wanted: Wanted): string | null {
  const master = masters?.find((one) => one.id === id)
  const said = master ? differencesOf(master, light, wanted) : []
  return said.length ? `The ${wanted} is not this frame’s: ${said.join('; ')}.` : null
}

/** How far a master is from a light, for the order in which they are offered. */
function distance(master: Master, light: Light, wanted: Wanted): number {
  const fields = differencesOf(master, light, wanted).length
  const [a, b] = [tempOf(master) ?? 0, tempOf(light) ?? 0]
  const apart =
    wanted === 'flat' ? 0 : Math.abs(Math.log((master.exposureS || 1) / (light.exposureS || 1))) + Math.abs(a - b) / 20
  return fields + Math.min(0.99, apart / 10)
}

/** Masters that can be set before a light: of its camera and size, with a scale that is known; the nearest first. */
export function mayChoose(
  masters: readonly Master[],
  light: Light,
  wanted: Wanted,
): { value: string; label: string }[] {
  const kinds = wanted === 'flat' ? ['flat'] : ['dark', 'darkFlat']
  return masters
    .filter(
      (master) =>
        kinds.includes(master.kind) &&
        master.state !== 'damaged' &&
        master.scale !== null &&
        master.subtracted !== null &&
        master.width === light.width &&
        master.height === light.height &&
        (master.camera === null || light.camera === null || master.camera === light.camera),
    )
    .map((master) => ({ master, far: distance(master, light, wanted) }))
    .toSorted((a, b) => a.far - b.far || b.master.id - a.master.id)
    .slice(0, MOST)
    .map(({ master }) => ({ value: String(master.id), label: choiceText(master, wanted) }))
}

/** "300 s, gain 100, offset 50, −10.0 °C; 41 days old, 30 frames". */
function choiceText(master: Master, wanted: Wanted): string {
  const value = (field: keyof Light) => {
    const text = settingValue(field, field === 'sensorTempC' ? tempOf(master) : master[field])
    return text === null ? [] : [field === 'gain' || field === 'offset' ? `${fieldWord(field)}\u00a0${text}` : text]
  }
  const fields =
    wanted === 'flat'
      ? (['filter', 'gain', 'offset'] as const)
      : (['exposureS', 'gain', 'offset', 'sensorTempC'] as const)
  const about = [
    ...(master.ageDays === null ? [] : [age(master.ageDays)]),
    ...(master.frames === null ? [] : [counted(master.frames, 'frame')]),
    ...(master.state === 'retired' ? ['retired'] : []),
  ]
  return [fields.flatMap(value).join(', '), about.join(', ')].filter(Boolean).join('; ')
}
