import { Refusal, type SettingsAnswer } from '../../contract/index.ts'
import { settings, type SettingName, type Unit } from '../../frame/dictionary.ts'

/** Units that are read as one another. */
const families: readonly (readonly Unit[])[] = [
  ['s', 'ms', 'us', 'min'],
  ['C', 'K', 'F'],
  ['mm', 'cm', 'm', 'um'],
  ['deg'],
  ['e-/ADU'],
]

const unitsOf = (unit: Unit | undefined): readonly Unit[] =>
  unit === undefined ? [] : (families.find((family) => family.includes(unit)) ?? [unit])

/** What a keyword can mean, with the units that its value can be in; the first of `meanings` is no better than the last. */
export const meanings: SettingsAnswer['meanings'] = Object.entries(settings).map(([setting, { unit }]) => ({
  setting,
  unit: unit ?? null,
  units: [...unitsOf(unit)],
}))

/**
 * A setting and the unit of its value, as a person named them.
 * @throws Refusal for a setting that does not exist, or a unit that it has not
 */
export function meaningOf(named: string, unit: string | null): { setting: SettingName; unit: Unit | null } {
  if (!Object.hasOwn(settings, named)) throw new Refusal(`There is no setting "${named}" that a keyword could mean.`)
  const setting = named as SettingName
  if (unit === null) return { setting, unit: null }
  const units = unitsOf(settings[setting].unit)
  if (!units.includes(unit as Unit))
    throw new Refusal(
      units.length ? `"${named}" is told in ${units.join(', ')}, not in "${unit}".` : `"${named}" has no unit.`,
    )
  return { setting, unit: unit as Unit }
}
