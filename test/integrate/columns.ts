/** Columns of pixel values that are hard on a clip: made the same way each time from a seed. */

export function random(seed: number): () => number {
  let state = seed >>> 0 || 1
  return () => {
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    return (state >>> 0) / 4294967296
  }
}

export function normal(next: () => number): number {
  return Math.sqrt(-2 * Math.log(next() || 1e-12)) * Math.cos(2 * Math.PI * next())
}

/** One column of `n` integers in 0…65535; `style` picks the difficulty. */
export const STYLES = [
  'noise',
  'outliers',
  'constant',
  'few levels',
  'ends',
  'saturated',
  'steps',
  'wide',
  'tie',
] as const

export function integerColumn(style: (typeof STYLES)[number], n: number, next: () => number): number[] {
  const level = 500 + Math.floor(next() * 60000)
  const clip = (x: number) => Math.min(65535, Math.max(0, Math.round(x)))
  const column = Array.from({ length: n }, () => {
    switch (style) {
      case 'noise':
      case 'outliers':
        return clip(level + 22 * normal(next))
      case 'constant':
        return level
      case 'few levels':
        return clip(level + Math.floor(next() * 3))
      case 'ends':
        return next() < 0.5 ? 0 : 65535
      case 'saturated':
        return next() < 0.6 ? 65535 : clip(65535 - 40 * Math.abs(normal(next)))
      case 'steps':
        return clip(Math.round((level + 22 * normal(next)) / 16) * 16)
      case 'wide':
        return Math.floor(next() * 65536)
      case 'tie':
        return level
    }
  })
  if (style === 'outliers')
    for (let k = 0; k < 1 + n / 8; k++) column[Math.floor(next() * n)] = clip(level + 9000 * (next() - 0.3))
  if (style === 'tie') tie(column, level, next)
  return column
}

/**
 * Values that lie exactly on a limit of 3σ about the median: with m at the median, and pairs at ±a and ±b, n σ² = 2(p a² + q b²);
 * b = 3σ for whole numbers where n = 2q·9… is arranged by searching. Frame order is shuffled, as rounding depends on it.
 */
function tie(column: number[], level: number, next: () => number): void {
  const n = column.length
  for (let attempt = 0; attempt < 50; attempt++) {
    const b = 1 + Math.floor(next() * 60)
    // n b² / 9 = 2 b² + 2 p a²: one pair at ±b, p pairs at ±a
    const rest = (n * b * b) / 9 - 2 * b * b
    if (rest <= 0) continue
    for (let p = 1; p <= (n - 3) / 2; p++) {
      const a = Math.sqrt(rest / (2 * p))
      if (!Number.isInteger(a) || a >= b) continue
      let at = 0
      for (const [d, count] of [
        [b, 1],
        [a, p],
      ])
        for (let k = 0; k < count; k++) {
          column[at++] = Math.min(65535, level + d)
          column[at++] = level - d
        }
      shuffle(column, next)
      return
    }
  }
}

export function shuffle(column: number[], next: () => number): void {
  for (let i = column.length - 1; i > 0; i--) {
    const j = Math.floor(next() * (i + 1))
    ;[column[i], column[j]] = [column[j], column[i]]
  }
}
