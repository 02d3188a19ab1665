/** Which part of an image a canvas shows. All lengths of a canvas are device pixels, so that 1:1 is one for one. */

export interface Size {
  width: number
  height: number
}

/** The image point at the canvas's middle, counted from its upper left corner as it is shown, and device pixels a pixel. */
export interface View {
  x: number
  y: number
  scale: number
}

export const MOST_SCALE = 64

/** The whole image, as large as it fits; a small one is enlarged by whole numbers only. */
export function fit(image: Size, canvas: Size): View {
  const most = Math.min(canvas.width / image.width, canvas.height / image.height)
  const scale = most > 1 ? Math.min(MOST_SCALE, Math.floor(most)) : most
  return { x: image.width / 2, y: image.height / 2, scale }
}

/** Leaves no more empty than has to be: an image that is smaller than the canvas stands in its middle. */
export function settle(view: View, image: Size, canvas: Size): View {
  const whole = fit(image, canvas).scale
  const scale = Math.min(MOST_SCALE, Math.max(Math.min(whole, 1), view.scale))
  return {
    x: within(view.x, image.width, canvas.width / scale),
    y: within(view.y, image.height, canvas.height / scale),
    scale,
  }
}

const within = (middle: number, length: number, shown: number) =>
  shown >= length ? length / 2 : Math.min(length - shown / 2, Math.max(shown / 2, middle))

/**
 * Where the image's first pixel lies on the canvas. On a whole device pixel, so that the edges of enlarged pixels stay crisp
 * and do not swim.
 */
export const originOf = ({ x, y, scale }: View, canvas: Size): { left: number; top: number } => ({
  left: Math.round(canvas.width / 2 - x * scale),
  top: Math.round(canvas.height / 2 - y * scale),
})

/** The image point under a point of the canvas; may lie outside. */
export function imagePoint(view: View, canvas: Size, at: { x: number; y: number }): { x: number; y: number } {
  const { left, top } = originOf(view, canvas)
  return { x: (at.x - left) / view.scale, y: (at.y - top) / view.scale }
}

/** The pixel under a point of the canvas, counted from 0 at the upper left as it is shown; null outside. */
export function pixelAt(view: View, image: Size, canvas: Size, at: { x: number; y: number }) {
  const point = imagePoint(view, canvas, at)
  const [x, y] = [Math.floor(point.x), Math.floor(point.y)]
  return x >= 0 && y >= 0 && x < image.width && y < image.height ? { x, y } : null
}

/** The same image point stays under `at`. */
export function zoomTo(view: View, image: Size, canvas: Size, at: { x: number; y: number }, scale: number): View {
  const point = imagePoint(view, canvas, at)
  const next = Math.min(MOST_SCALE, scale)
  return settle(
    {
      x: point.x + (canvas.width / 2 - at.x) / next,
      y: point.y + (canvas.height / 2 - at.y) / next,
      scale: next,
    },
    image,
    canvas,
  )
}

export const pan = (view: View, image: Size, canvas: Size, by: { x: number; y: number }): View =>
  settle({ ...view, x: view.x + by.x / view.scale, y: view.y + by.y / view.scale }, image, canvas)

/** Enlarged, pixels have whole sizes; shrunken, by halves. */
const steps = [1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, MOST_SCALE]
const allSteps = [...[64, 48, 32, 24, 16, 12, 8, 6, 4, 3, 2].map((part) => 1 / part), ...steps]

/** The next scale in a direction; `fitted` is a step of its own. */
export function nextScale(scale: number, direction: 1 | -1, fitted: number): number {
  const all = [...allSteps, fitted].sort((a, b) => a - b)
  const next = direction > 0 ? all.find((step) => step > scale * 1.001) : all.findLast((step) => step < scale / 1.001)
  return next ?? scale
}

/** "1:1", "4:1" enlarged, "1:7.5" shrunken. */
export const scaleWord = (scale: number): string => (scale >= 1 ? `${trim(scale)}:1` : `1:${trim(1 / scale)}`)

const trim = (value: number) =>
  Math.abs(value - Math.round(value)) < 0.05 ? String(Math.round(value)) : value.toFixed(1)
