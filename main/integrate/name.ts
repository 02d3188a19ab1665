import type { MasterKind, Settings } from '../contract/index.ts'

const KIND_WORDS: Record<MasterKind, string> = { dark: 'dark', darkFlat: 'dark flat', flat: 'flat', bias: 'bias' }

/**
 * A master's file name: readable, the same for the same master, and acceptable to every file system
 * ("2026-11-20 Heron 11C dark 300 s minus 10 C gain 120 offset 30.fits").
 * @param day the night on which its first frame was taken
 */
export function masterFileName(kind: MasterKind, settings: Partial<Settings>, day: string): string {
  const { camera, body, filter, exposureS, setTempC, sensorTempC, gain, offset, binning, readout } = settings
  const tempC = setTempC ?? sensorTempC
  const parts = [
    day,
    camera ?? 'camera',
    body,
    KIND_WORDS[kind],
    kind === 'flat' ? filter : null,
    exposureS == null ? null : `${plain(exposureS, 4)} s`,
    tempC == null ? null : `${words(tempC)} C`,
    gain == null ? null : `gain ${typeof gain === 'number' ? words(gain) : gain}`,
    offset == null ? null : `offset ${typeof offset === 'number' ? words(offset) : offset}`,
    binning == null || binning === '1x1' ? null : `bin ${binning}`,
    isOrdinary(readout) ? null : `mode ${readout}`,
  ]
  return `${safe(parts.filter((part) => part != null && part !== '').join(' '))}.fits`
}

/** The name with a number after it, for the second file of that name and on. */
export function numbered(name: string, n: number): string {
  return n < 2 ? name : name.replace(/\.fits$/, ` (${n}).fits`)
}

/** The mode that a camera has without being told otherwise is not worth a word in a name. */
function isOrdinary(readout: Settings['readout'] | undefined): boolean {
  return readout == null || readout === 0 || /^(standard|normal|default)?$/i.test(String(readout).trim())
}

function words(value: number): string {
  const text = plain(Math.abs(value), 1)
  return value < 0 && text !== '0' ? `minus ${text}` : text
}

function plain(value: number, decimals: number): string {
  return String(Number(value.toFixed(decimals)))
}

/**
 * Without what Windows refuses (< > : " / \ | ? * and control characters, a blank or dot at the end), and no longer than leaves room
 * for a number and a temporary suffix in 255 bytes.
 */
function safe(name: string): string {
  let kept = name
    .normalize('NFC')
    .replace(/[<>:"/\\|?*\u0000-\u001f\u007f]/g, ' ')
    .replace(/\s+/g, ' ')
    .trim()
  while (Buffer.byteLength(kept) > 180) kept = kept.slice(0, -1)
  return kept.replace(/[. ]+$/, '')
}
