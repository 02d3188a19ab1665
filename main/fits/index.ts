/** Reading and writing FITS files. See each file for its part; everything that other folders use is here. */
export { FitsError, type FitsErrorCode } from './error.ts'
export { Header, parseHeader, type Card, type CardForm, type CardValue, type Complex } from './header.ts'
export { readFitsInfo, type FitsInfo, type FitsUnit } from './file.ts'
export type { Bitpix, ImageShape } from './structure.ts'
export { ImageReader, openImage } from './image.ts'
export { createSamples, toPhysical, type Samples, type SampleType, type Scaling } from './samples.ts'
export {
  describingCards,
  encodeFits,
  openFitsWriter,
  type FitsWriter,
  type NewCard,
  type NewImage,
  type NewTable,
  type TableColumn,
  type WritableSamples,
} from './write.ts'
export { decodeChecksum, encodeChecksum, sumWords } from './checksum.ts'
export { verifyChecksums, type UnitSums } from './verify.ts'
