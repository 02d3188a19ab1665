/** Small statistics that the sensor figures share. All sums in float64. */

/** A figure with its 95 % confidence interval, in the figure's own unit. */
export interface Estimate {
  value: number
  ci95: [low: number, high: number]
}

/** Two-sided 97.5 % quantile of Student's t for `df` degrees of freedom (Cornish–Fisher expansion; exact table below 3). */
export function studentT975(df: number): number {
  if (df < 1) return Infinity
  const exact = [12.7062, 4.30265, 3.18245][df - 1]
  if (exact) return exact
  const z = 1.959963984540054
  const [z3, z5, z7] = [z ** 3, z ** 5, z ** 7]
  // Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5 (from memory; checked against tabulated values).
  return (
    z +
    (z3 + z) / (4 * df) +
    (5 * z5 + 16 * z3 + 3 * z) / (96 * df ** 2) +
    (3 * z7 + 19 * z5 + 17 * z3 - 15 * z) / (384 * df ** 3)
  )
}

/** An estimate from its value, standard error and degrees of freedom. */
export function estimate(value: number, standardError: number, df: number): Estimate {
  const half = studentT975(df) * standardError
  return { value, ci95: [value - half, value + half] }
}

export interface Line {
  slope: number
  intercept: number
  /** Standard error of the slope from the residuals; NaN where two points leave none. */
  slopeError: number
  interceptError: number
  df: number
}

/**
 * Weighted least squares y = intercept + slope·x, minimising Σ (w·residual)².
 * @param w weights as numpy.polyfit's `w` (each multiplies its residual); all 1 if left out
 * @throws RangeError with fewer than two different x
 */
export function fitLine(x: ArrayLike<number>, y: ArrayLike<number>, w?: ArrayLike<number>): Line {
  let s = 0
  let sx = 0
  let sy = 0
  for (let i = 0; i < x.length; i++) {
    const w2 = w ? w[i] ** 2 : 1
    s += w2
    sx += w2 * x[i]
    sy += w2 * y[i]
  }
  const [mx, my] = [sx / s, sy / s]
  let sxx = 0
  let sxy = 0
  for (let i = 0; i < x.length; i++) {
    const w2 = w ? w[i] ** 2 : 1
    sxx += w2 * (x[i] - mx) ** 2
    sxy += w2 * (x[i] - mx) * (y[i] - my)
  }
  if (!(sxx > 0)) throw new RangeError('A line needs at least two different values on its x axis.')
  const slope = sxy / sxx
  const intercept = my - slope * mx
  const df = x.length - 2
  let residual = 0
  for (let i = 0; i < x.length; i++) residual += (w ? w[i] ** 2 : 1) * (y[i] - intercept - slope * x[i]) ** 2
  const variance = df > 0 ? residual / df : NaN
  return {
    slope,
    intercept,
    slopeError: Math.sqrt(variance / sxx),
    interceptError: Math.sqrt(variance * (1 / s + mx ** 2 / sxx)),
    df,
  }
}

/** Least squares through the origin, y = slope·x. */
export function fitThroughOrigin(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
): { slope: number; slopeError: number; df: number } {
  let sxx = 0
  let sxy = 0
  for (let i = 0; i < x.length; i++) {
    sxx += x[i] * x[i]
    sxy += x[i] * y[i]
  }
  if (!(sxx > 0)) throw new RangeError('A slope needs at least one value other than zero on its x axis.')
  const slope = sxy / sxx
  const df = x.length - 1
  let residual = 0
  for (let i = 0; i < x.length; i++) residual += (y[i] - slope * x[i]) ** 2
  return { slope, slopeError: df > 0 ? Math.sqrt(residual / df / sxx) : NaN, df }
}
