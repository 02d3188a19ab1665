import { encode } from 'fast-png'
import type { Shape } from './tray-state.ts'

/**
 * The coverage disc as a PNG with transparency, drawn here so that one description serves every size.
 * @param size width and height, pixels
 * @param rgb the one colour of the drawing
 */
export function discPng(
  shape: Shape,
  size: number,
  rgb: readonly [number, number, number] = [217, 195, 154],
): Uint8Array {
  const data = new Uint8Array(size * size * 4)
  const centre = (size - 1) / 2
  const radius = size * 0.42
  const stroke = Math.max(2, size * 0.12)
  for (let y = 0; y < size; y++)
    for (let x = 0; x < size; x++) {
      const dx = x - centre
      const dy = y - centre
      const alpha = shade(
        shape,
        { distance: Math.hypot(dx, dy), angle: Math.atan2(dy, dx), across: (dx + dy) / Math.SQRT2 },
        radius,
        stroke,
      )
      data.set([...rgb, Math.round(255 * alpha)], (y * size + x) * 4)
    }
  return encode({ width: size, height: size, data, channels: 4 })
}

/** How much of a pixel the shape covers, 0 to 1; its edges are one pixel soft. */
function shade(
  shape: Shape,
  at: { distance: number; angle: number; across: number },
  radius: number,
  stroke: number,
): number {
  const inside = (edge: number) => Math.min(1, Math.max(0, edge + 0.5))
  const disc = inside(radius - at.distance)
  if (shape === 'full') return disc
  const ring = Math.min(disc, inside(at.distance - (radius - stroke)))
  if (shape === 'ring') return ring
  if (shape === 'struck') return Math.max(ring, Math.min(disc, inside(stroke / 2 - Math.abs(at.across))))
  // Eight dots: every other sixteenth of the ring.
  return Math.floor((at.angle / Math.PI) * 8 + 16) % 2 === 0 ? ring : 0
}
