/** Puts text on the clipboard. A page over plain http has no clipboard of its own: there the old command serves. */
export async function copyToClipboard(text: string): Promise<boolean> {
  try {
    if (navigator.clipboard) {
      await navigator.clipboard.writeText(text)
      return true
    }
  } catch {
    // Refused (no permission, page not in front): the old way may still work.
  }
  return copyBySelection(text)
}

function copyBySelection(text: string): boolean {
  const before = document.activeElement
  const field = document.createElement('textarea')
  field.value = text
  field.setAttribute('aria-hidden', 'true')
  field.className = 'out-of-sight'
  document.body.append(field)
  field.select()
  const copied = document.execCommand('copy')
  field.remove()
  if (before instanceof HTMLElement) before.focus()
  return copied
}
