import type { Answer, Asked, Frame, Master } from '../../contract/index.ts'
import { FitsError, openImage, type FitsInfo, type ImageReader } from '../../fits/index.ts'
import { fullScaleFor } from '../../rules/levels.ts'
import type { Core } from '../core.ts'
import { instant } from '../clock.ts'
import { createDescriber } from '../ingest/describer.ts'
import { sensorFinder } from '../inspect/sensor-memory.ts'
import { sensorsKept } from '../../../db/tables/sensor-figures.ts'
import { matchContextOf } from '../settings.ts'
import { sayCards } from './cards.ts'
import { pixelFile, storedOf } from './pixels.ts'

type Image = Answer<'image'>

/**
 * What it takes to show a frame or a master.
 * @throws Refusal, FitsError: one sentence
 */
export async function imageOf(core: Core, asked: Asked<'image'>): Promise<Image> {
  const stored = storedOf(core, asked.of, asked.id)
  const { path, own } = await pixelFile(core, asked, stored)
  using image = openImage(path)
  const fullScaleAdu = 'scale' in stored ? null : fullScaleOfNight(core, stored)
  return {
    layout: layoutOf(image),
    cfa: stored.cfa,
    rowOrder: stored.rowOrder,
    unit: 'scale' in stored ? stored.scale : 'adu',
    electronsPerAdu: electronsOf(core, stored, own),
    fullScaleAdu,
    targetAdu: targetOf(core, stored, fullScaleAdu),
    cards: sayCards(own.header.cards),
  }
}

export function layoutOf(image: ImageReader): Image['layout'] {
  const { width, height, planes, bitpix, scaling, header, info } = image
  if (bitpix === 64)
    throw new FitsError('no-image', 'This image holds integers of 64 bits and could not be unpacked: try once more.')
  const blank = bitpix > 0 ? header.value('BLANK') : null
  return {
    ...{ width, height, planes, bitpix },
    zero: scaling.bzero,
    scale: scaling.bscale,
    blank: typeof blank === 'number' && Number.isInteger(blank) ? blank : null,
    offset: info.imageUnit!.dataOffset,
    fileBytes: info.fileSize,
  }
}

/** A measured figure before a stated one: it is this camera's own. Of a master's header nothing is kept, so it is read. */
function electronsOf(core: Core, stored: Frame | Master, own: FitsInfo): Image['electronsPerAdu'] {
  const measured = sensorFinder(sensorsKept(core.db))(stored)
  if (measured) return { value: measured.ePerAdu.value, from: 'measured' }
  const { electronsPerAdu: stated } = 'electronsPerAdu' in stored ? stored : describeHeader(core, stored, own)
  return stated === null ? null : { value: stated, from: 'header' }
}

function describeHeader({ db, zone }: Core, { path, width, height }: Master, { header, mtimeMs }: FitsInfo) {
  return createDescriber(db, zone)(header, { path, root: null, mtimeMs, width, height })
}

function fullScaleOfNight({ nights }: Core, { camera, night }: Frame): number | null {
  const { frames } = nights.page(night)
  const brightest = frames.flatMap((one) => (one.camera === camera && one.figures ? [one.figures.max] : []))
  return brightest.length ? fullScaleFor(brightest.reduce((a, b) => Math.max(a, b))) : null
}

/** As `flat-level` judges it: a fraction of full scale, less what a flat holds without light. */
function targetOf(core: Core, stored: Frame | Master, fullScaleAdu: number | null): number | null {
  if (stored.kind !== 'flat' || ('scale' in stored && stored.scale === 'unit')) return null
  const rules = matchContextOf(core.db, instant(core.clock)).sensorRules(stored.camera)
  const pedestal = 'scale' in stored ? 0 : pedestalOf(core, stored)
  const full = fullScaleAdu ?? 65_535
  return pedestal + (rules.flatTargetAdu.value / 65_535) * (full - pedestal)
}

function pedestalOf({ judging, shelf }: Core, flat: Frame): number {
  const id = judging.verdicts(flat, null).darkFlat?.master
  const master = shelf.masters.find((one) => one.id === id)
  return master?.figures && master.scale !== 'unit' ? master.figures.median : 0
}
