import type { ProofFigures } from './proof.ts'

/** What the figures of a proof mean, in sentences for a person. */
export function proofText(before: ProofFigures, after: ProofFigures): string {
  const parts: string[] = []
  if (after.glowOverNoise !== null && before.glowAdu !== null) {
    const left = Math.abs(after.glowOverNoise)
    const tellableAdu = 3 * after.glowErrorAdu!
    if (left < 0.5) parts.push(`Glow removed to ${left.toFixed(1)} of the noise.`)
    else if (Math.abs(after.glowAdu!) < tellableAdu)
      parts.push(
        Math.abs(before.glowAdu) < tellableAdu
          ? `Whether glow is left cannot be told: the field is uneven itself, by up to ${tellableAdu.toFixed(0)} ADU.`
          : `Glow removed, as far as this uneven field can tell (to ${tellableAdu.toFixed(0)} ADU).`,
      )
    else
      parts.push(
        after.glowOverNoise > 0
          ? `Glow under-subtracted: ${after.glowAdu!.toFixed(0)} ADU are left at its peak. Is this the right dark?`
          : `Glow over-subtracted: ${(-after.glowAdu!).toFixed(0)} ADU too much are gone at its peak. Is this the right dark?`,
      )
  }
  if (after.vignettingLeft !== null) {
    const left = after.vignettingLeft
    if (Math.abs(left) < 0.1) parts.push('Vignetting corrected.')
    else
      parts.push(
        left > 0
          ? `${(100 * left).toFixed(0)} % of the vignetting is left: the flat does not fit this light, or too little was subtracted from it.`
          : `Vignetting over-corrected by ${(-100 * left).toFixed(0)} %: was the flat's own dark flat subtracted?`,
      )
  } else parts.push('The sky is too dark, or too uneven, in this light to judge the flat by it.')
  if (after.shadowsLeft !== null && Math.abs(after.shadowsLeft) > 0.3)
    parts.push('Dust shadows do not line up with the flat.')
  if (before.hotPixels > 0) parts.push(sayHot(before.hotPixels, after.hotPixels))
  return parts.join(' ')
}

/** A dark that fits leaves few hot pixels: particle hits, and those that flicker. One that does not leaves holes or lights. */
function sayHot(before: number, after: number): string {
  const said = `${Math.min(after, before)} of ${before} hot pixels are left`
  const wrong = before >= 10 && after > before / 2
  return wrong ? `${said}: this dark does not take them away.` : `${said}.`
}
