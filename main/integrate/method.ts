/** How the frames of one pixel become one value. `low` and `high` are in standard deviations, or for `minMax` counts of frames. */
export type Method =
  | { name: 'mean' }
  | { name: 'median' }
  /** Mean of what lies within low·σ and high·σ of the median; σ is the population standard deviation. */
  | { name: 'sigmaClip'; low: number; high: number; rounds: number }
  /** The same with σ = 1.482602218505602 × median absolute deviation, taken as at least `leastSigma` (ADU). */
  | { name: 'madClip'; low: number; high: number; rounds: number; leastSigma: number }
  /** Mean without the `low` lowest and the `high` highest values. */
  | { name: 'minMax'; low: number; high: number }

/** Sums of squares of 16-bit values stay exact integers in float64 up to here (n² · 2³⁰ < 2⁵³), with room to spare. */
export const MOST_FRAMES = 2048

/**
 * The method that can still reject something. The standard deviation of N values contains the outlier itself: about the median,
 * 3 of them reject nothing below 8 frames, and of two equal outliers none below 16. So below 16 frames the median absolute
 * deviation at 5σ takes over; that is zero where more than half of the (integer) values agree, hence `step` as its least value.
 *
 * @param frames number of frames
 * @param step smallest difference between two levels of the data, ADU (1, or 4 and 16 for 14- and 12-bit data shifted up)
 */
export function defaultMethod(frames: number, step = 1): Method {
  if (frames < 3) return { name: 'mean' }
  return frames >= 16
    ? { name: 'sigmaClip', low: 3, high: 3, rounds: 5 }
    : { name: 'madClip', low: 5, high: 5, rounds: 5, leastSigma: step }
}

/** Throws a RangeError with the numbers in it if the method cannot be applied to so many frames. */
export function checkMethod(method: Method, frames: number): void {
  if (!(frames >= 1 && frames <= MOST_FRAMES)) throw new RangeError(`1 to ${MOST_FRAMES} frames, not ${frames}`)
  if (method.name === 'mean' || method.name === 'median') return
  const { low, high } = method
  if (!(low >= 0 && high >= 0)) throw new RangeError(`limits of 0 or more, not ${low} and ${high}`)
  if (method.name === 'minMax') {
    if (!Number.isInteger(low) || !Number.isInteger(high) || low + high >= frames)
      throw new RangeError(`leaving out ${low} lowest and ${high} highest of ${frames} frames leaves none`)
  } else if (!(method.rounds >= 1)) throw new RangeError(`at least one round, not ${method.rounds}`)
}

/** One line for a header or a person. */
export function describeMethod(method: Method): string {
  switch (method.name) {
    case 'mean':
      return 'mean'
    case 'median':
      return 'median'
    case 'minMax':
      return `mean without the ${method.low} lowest and ${method.high} highest`
    case 'sigmaClip':
      return `mean within -${method.low} and +${method.high} standard deviations of the median, ${method.rounds} rounds`
    case 'madClip':
      return `mean within -${method.low} and +${method.high} sigma (from the MAD) of the median, ${method.rounds} rounds`
  }
}
