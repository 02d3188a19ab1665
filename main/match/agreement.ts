import type { Difference, Settings } from '../contract/index.ts'
import { compareField, darkFields, flatFields } from '../frame/keys.ts'

/** How two sets of settings agree in the fields that must be equal. `unknown`: fields that just one side knows. */
export interface Agreement {
  differs: Difference[]
  unknown: Difference[]
}

type Field = keyof Settings

/** Focal lengths differ by what a plate solver or a reducer's tolerance makes of them; more than this is another train. */
const focalFraction = 0.02

/** Fields of the key that are compared one by one; body and train need judgement of their own. */
const plain = (fields: readonly Field[]) => fields.filter((f) => f !== 'camera' && f !== 'body' && f !== 'train')
const darkPlain = plain(darkFields)
const flatPlain = plain(flatFields)

/** Light (or flat) against dark, dark flat or bias: all but temperature and exposure. */
export function agreeForDark(light: Settings, master: Settings, twins: ReadonlySet<string>): Agreement {
  const agreement = agreeInBody(light, master, twins)
  for (const field of darkPlain) hold(agreement, field, light, master)
  return agreement
}

/** Light against flat: all but epoch, angle, temperature, gain and offset. */
export function agreeForFlat(light: Settings, master: Settings, twins: ReadonlySet<string>): Agreement {
  const agreement = agreeInBody(light, master, twins)
  for (const field of flatPlain) hold(agreement, field, light, master)
  agreeInTrain(agreement, light, master)
  return agreement
}

function hold(agreement: Agreement, field: Field, light: Settings, master: Settings): void {
  const answer = compareField(light[field], master[field])
  if (answer === 'differs') agreement.differs.push(difference(field, light, master))
  if (answer === 'unconfirmed') agreement.unknown.push(difference(field, light, master))
}

/**
 * The one body, not the model. Bodies known on both sides decide, whatever a driver calls the camera. Known on one side only,
 * or on none while two bodies of the model are in use: the same rig is the same body; otherwise nobody can tell.
 */
function agreeInBody(light: Settings, master: Settings, twins: ReadonlySet<string>): Agreement {
  const agreement: Agreement = { differs: [], unknown: [] }
  const bodies = compareField(light.body, master.body)
  if (light.body !== null && bodies === 'equal') return agreement
  hold(agreement, 'camera', light, master)
  if (agreement.differs.length) return agreement
  if (bodies === 'differs') agreement.differs.push(difference('body', light, master))
  else if (!sameRig(light, master) && (bodies === 'unconfirmed' || twins.has(light.camera ?? '')))
    agreement.unknown.push(difference('body', light, master))
  return agreement
}

/**
 * The train by its name; by its rig where it has none. A master from elsewhere has neither, and then telescope and focal length
 * speak against it where they differ, but do not speak for it: a telescope's name in a header may be the mount's.
 * The same rig is the same train whatever TELESCOP says (a mount parked at dawn writes none): epochs tell when it was changed.
 */
function agreeInTrain(agreement: Agreement, light: Settings, master: Settings): void {
  const trains = compareField(light.train, master.train)
  if (light.train !== null && master.train !== null) {
    if (trains === 'differs') agreement.differs.push(difference('train', light, master))
    return
  }
  if (light.rig !== null && master.rig !== null) {
    if (!sameRig(light, master)) agreement.differs.push(difference('rig', light, master))
    return
  }
  if (compareField(light.telescope, master.telescope) === 'differs')
    agreement.differs.push(difference('telescope', light, master))
  else if (focalDiffers(light.focalMm, master.focalMm)) agreement.differs.push(difference('focalMm', light, master))
  else if (trains === 'unconfirmed') agreement.unknown.push(difference('train', light, master))
}

export const sameRig = (a: Settings, b: Settings) => a.rig !== null && compareField(a.rig, b.rig) === 'equal'

/** FOCALLEN 0 is a driver's way of not knowing. */
export const focalDiffers = (a: number | null, b: number | null) =>
  a !== null && b !== null && a > 0 && b > 0 && Math.abs(a - b) > focalFraction * Math.max(a, b)

export const difference = (field: Field, light: Settings, master: Settings): Difference => ({
  field,
  light: light[field],
  master: master[field],
})

/**
 * The same fields with the values of these two. An agreement is worked out once for many frames and masters that are equal, but
 * one may spell `'120'` what another spells 120.
 */
export const restate = (fields: readonly Difference[], light: Settings, master: Settings): Difference[] =>
  fields.map((d) => difference(d.field as Field, light, master))
