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
import { mapPicture, proofPictures } from './pictures.ts'
import { readPlane, subtractPlane, type FloatPlane } from './plane-file.ts'
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

function inspectFlat({ fresh, darkFlat, master, cfa }: FlatAsk): FlatInspected {
  const flat = subtractPlane(readPlane(fresh, cfa), readPlane(darkFlat, cfa))
  const { map, ...check } = checkFlat(flat, readFlat(master, cfa))
  return { check, map: mapPicture(map) }
}

const inspectDark = ({ fresh, master, cfa }: DarkAsk): DarkInspected =>
  checkDark(readPlane(fresh, cfa), readPlane(master, cfa))

function inspectLight({ light, dark, flat, cfa, file }: ProofAsk): ProofInspected {
  const isCfa = cfa !== null
  const raw = readPlane(light, isCfa)
  const { calibrated, ...proof } = prove(raw, readPlane(dark, isCfa), readFlat(flat, isCfa), cfa)
  const { width, height } = raw
  if (file) writeProof({ ...file, width, height, pixels: calibrated, header: readFitsInfo(light.path).header })
  return { ...proof, ...proofPictures(raw, { ...raw, data: calibrated }, cfa) }
}

function readFlat({ less, ...file }: FlatFile, cfa: boolean): FloatPlane {
  const flat = readPlane(file, cfa)
  return less ? subtractPlane(flat, readPlane(less, cfa)) : flat
}
