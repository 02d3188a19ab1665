import type { Frame } from '../contract/index.ts'

type Timed = Pick<Frame, 'camera' | 'body' | 'rig' | 'startedAt' | 'exposureS'>

/**
 * Cameras of which two bodies are in use: two rigs exposed at the same moment with the same model, and no header names the body.
 * One camera carried from rig to rig never overlaps with itself.
 * @returns camera names as INSTRUME has them
 */
export function findTwins(frames: readonly Timed[]): string[] {
  const byCamera = new Map<string, { rig: string; fromMs: number; toMs: number }[]>()
  for (const { camera, body, rig, startedAt, exposureS } of frames) {
    const fromMs = Date.parse(startedAt ?? '')
    if (camera === null || body !== null || rig === null || Number.isNaN(fromMs)) continue
    const spans = byCamera.get(camera) ?? []
    spans.push({ rig, fromMs, toMs: fromMs + (exposureS ?? 0) * 1000 })
    byCamera.set(camera, spans)
  }
  return [...byCamera].filter(([, spans]) => overlapAcrossRigs(spans)).map(([camera]) => camera)
}

function overlapAcrossRigs(spans: { rig: string; fromMs: number; toMs: number }[]): boolean {
  spans.sort((a, b) => a.fromMs - b.fromMs)
  const latestEnd = new Map<string, number>()
  for (const { rig, fromMs, toMs } of spans) {
    for (const [other, endMs] of latestEnd) if (other !== rig && endMs > fromMs) return true
    latestEnd.set(rig, Math.max(latestEnd.get(rig) ?? -Infinity, toMs))
  }
  return false
}
