import { z } from 'zod'
import { asks } from '../request.ts'
import { SCALES } from '../master.ts'

/**
 * How the pixels lie in the file that `OF/ID/pixels` answers, so that a window can decode them without reading a header:
 * big-endian numbers of `bitpix` (FITS standard 4.0, table 8), the first of the first plane at `offset`. Physical value =
 * `zero` + `scale` × stored number; the stored number `blank` means that there is none.
 */
export const layoutSchema = z.object({
  width: z.number(),
  height: z.number(),
  planes: z.number(),
  bitpix: z.union([z.literal(8), z.literal(16), z.literal(32), z.literal(-32), z.literal(-64)]),
  zero: z.number(),
  scale: z.number(),
  blank: z.number().nullable(),
  /** Bytes before the first pixel, and in the whole file. */
  offset: z.number(),
  fileBytes: z.number(),
})
export type Layout = z.infer<typeof layoutSchema>

export const imageRequests = {
  /**
   * What it takes to show a frame or a master. A tile-compressed file, or one of 64-bit integers, is unpacked for it first.
   * Refused with a sentence where the file is away or broken.
   */
  image: asks(
    z.object({ of: z.enum(['frame', 'master']), id: z.number().int().positive() }),
    z.object({
      layout: layoutSchema,
      /** Colour filter array from the first stored pixel; null for mono, or where it is not known. */
      cfa: z.string().nullable(),
      /** ROWORDER as the header has it: which end of the picture the first stored row is. */
      rowOrder: z.string().nullable(),
      /** What the numbers are; null where nobody has said. */
      unit: z.enum(SCALES).nullable(),
      /** Electrons per ADU, measured here or as the header states it without doubt. */
      electronsPerAdu: z.object({ value: z.number(), from: z.enum(['measured', 'header']) }).nullable(),
      /** ADU of the converter's upper end, from the brightest pixel of the camera's night; null where nothing tells. */
      fullScaleAdu: z.number().nullable(),
      /** Level wanted of the median, ADU: of flats only. */
      targetAdu: z.number().nullable(),
      cards: z.array(z.object({ keyword: z.string(), value: z.string(), comment: z.string() })),
    }),
  ),
}
