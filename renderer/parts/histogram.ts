const HEIGHT = 100

/** An SVG path of filled steps, one unit wide each, logarithmic in height; 0 counts stand on the ground, 1 just above it. */
export function histogramPath(counts: readonly number[]): string {
  const top = Math.log1p(counts.reduce((most, count) => Math.max(most, count), 1))
  const steps = counts.map((count) => `V${(HEIGHT - (HEIGHT * Math.log1p(count)) / top).toFixed(2)}h1`)
  return `M0 ${HEIGHT}${steps.join('')}V${HEIGHT}Z`
}
