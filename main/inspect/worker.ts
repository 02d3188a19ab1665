import { Refusal } from '../contract/index.ts'
import { readFitsInfo } from '../fits/index.ts'
import { serve } from '../measure/crew-member.ts'
import { checkDark } from './check-dark.ts'
import { checkFlat } from './check-flat.ts'
import { darkLevels } from './dark-signal.ts'
import type {
  DarkAsk,
  DarkInspected,
  FlatAsk,
  FlatFile,
  FlatInspected,
  InspectAnswer,
  InspectAsk,
  ProofAsk,
  ProofInspected,
} from './job.ts'
import { darkMapPicture, mapPicture, proofPictures } from './pictures.ts'
import { readPlane, subtractPlane, type FloatPlane, type PlaneFile } from './plane-file.ts'
import { writeProof } from './proof-file.ts'
import { prove } from './proof.ts'
import { measureSensor, readLevels } from './sensor-pairs.ts'

serve<InspectAsk, InspectAnswer>((ask) => {
  try {
    return answer(ask)
  } catch (error) {
    // What the arithmetic cannot take is a matter of the frames that were named: one sentence for a person.
    throw error instanceof RangeError ? new Refusal(error.message) : error
  }
})

function answer(ask: InspectAsk): InspectAnswer {
  switch (ask.task) {
    case 'flat':
      return inspectFlat(ask)
    case 'dark':
      return inspectDark(ask)
    case 'proof':
      return inspectLight(ask)
    case 'sensor':
      return measureSensor(ask.flats, ask.darks)
    case 'signal':
      return darkLevels(readPlane(ask.master, ask.cfa))
    case 'levels':
      return readLevels(ask.paths, ask.pedestalAdu)
  }
}

/**
 * Memory of frames, used again from job to job while the thread lives: to get it anew costs more than the arithmetic. A job that
 * fails leaves its own to the collector.
 */
const spare: FloatPlane['data'][] = []
const read = (file: PlaneFile, cfa: boolean) => readPlane(file, cfa, spare)
const giveBack = (...planes: FloatPlane[]) => spare.push(...planes.map(({ data }) => data))

function inspectFlat({ fresh, darkFlat, master, cfa, limits }: FlatAsk): FlatInspected {
  const flat = readFlat({ ...fresh, less: darkFlat }, cfa)
  const old = readFlat(master, cfa)
  const { map, ...check } = checkFlat(flat, old, limits)
  giveBack(flat, old)
  return { check, map: mapPicture(map) }
}

function inspectDark({ fresh, master, cfa }: DarkAsk): DarkInspected {
  const [dark, old] = [read(fresh, cfa), read(master, cfa)]
  const { map, ...check } = checkDark(dark, old)
  giveBack(dark, old)
  return { check, map: darkMapPicture(map, check.figures.noiseAdu) }
}

function inspectLight({ light, dark, flat, cfa, file }: ProofAsk): ProofInspected {
  const isCfa = cfa !== null
  const divisor = readFlat(flat, isCfa)
  const [raw, under] = [read(light, isCfa), read(dark, isCfa)]
  const { calibrated, ...proof } = prove(raw, under, divisor, cfa, under.data)
  const { width, height } = raw
  if (file) writeProof({ ...file, width, height, pixels: calibrated, header: readFitsInfo(light.path).header })
  const pictures = proofPictures(raw, { ...raw, data: calibrated }, cfa)
  giveBack(raw, under, divisor)
  return { ...proof, ...pictures }
}

function readFlat({ less, ...file }: FlatFile, cfa: boolean): FloatPlane {
  const flat = read(file, cfa)
  if (!less) return flat
  const dark = read(less, cfa)
  subtractPlane(flat, dark)
  giveBack(dark)
  return flat
}
