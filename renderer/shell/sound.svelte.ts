import type { Notice } from '../../main/contract/index.ts'
import { readStored, writeStored } from './stored.ts'

/** Plays one call; resolves to false where the browser wants a click or key first. */
export type Player = () => Promise<boolean>

const REMEMBERED = 200

/** Sounds once for each notice that must be heard, and never again for the same one, also after a reload. */
export class Sound {
  readonly #play: Player
  #muted = $state(readStored('muted') === 'yes')
  #blocked = $state(false)
  #waits = $state(waitsForGesture())
  #heard: string[] = (readStored('heard') ?? '').split(' ').filter(Boolean)

  constructor(play: Player = playCall) {
    this.#play = play
  }

  get muted() {
    return this.#muted
  }

  /** True when a call could not be heard because the browser wants one click or key on the page first. */
  get blocked() {
    return this.#blocked
  }

  /** True until the first click or key on a page whose browser plays nothing before one. */
  get waits() {
    return this.#waits
  }

  /** A click or key came: the browser lets sounds through from now on. */
  released() {
    this.#waits = waitsForGesture()
  }

  /** Plays the call for someone who wants to know how loud it is, muted or not. @returns whether it could be played */
  try = () => this.#play()

  toggle = () => {
    this.#muted = !this.#muted
    this.#blocked = false
    writeStored('muted', this.#muted ? 'yes' : null)
    if (!this.#muted) void this.#play()
  }

  async consider(notices: readonly Notice[]) {
    const fresh = notices.filter(
      ({ sounds, acknowledged, id }) => sounds && !acknowledged && !this.#heard.includes(key(id)),
    )
    if (!fresh.length || this.#muted) return
    const before = this.#heard
    this.#heard = [...before, ...fresh.map(({ id }) => key(id))].slice(-REMEMBERED)
    if (await this.#play()) {
      this.#blocked = false
      writeStored('heard', this.#heard.join(' '))
    } else {
      this.#blocked = true
      this.#heard = before
    }
  }
}

const key = (id: string) => encodeURIComponent(id)

/** Browsers play no sound on a page that nobody has touched yet; Electron's window does. */
const waitsForGesture = () =>
  typeof window !== 'undefined' && !window.nightshelf && navigator.userActivation?.hasBeenActive === false

let context: AudioContext | undefined

/** Two low, soft tones, a second in all: heard by the one who waits, not by the neighbours. */
async function playCall(): Promise<boolean> {
  if (!('AudioContext' in window) || waitsForGesture()) return false
  context ??= new AudioContext()
  if (context.state !== 'running') void context.resume()
  await new Promise((resolve) => setTimeout(resolve, 50))
  if (context.state !== 'running') return false
  tone(context, 392, 0)
  tone(context, 523.25, 0.4)
  return true
}

function tone(audio: AudioContext, frequencyHz: number, afterS: number) {
  const start = audio.currentTime + afterS
  const oscillator = new OscillatorNode(audio, { type: 'sine', frequency: frequencyHz })
  const gain = new GainNode(audio, { gain: 0 })
  gain.gain.setValueAtTime(0, start)
  gain.gain.linearRampToValueAtTime(0.25, start + 0.04)
  gain.gain.exponentialRampToValueAtTime(0.001, start + 0.6)
  oscillator.connect(gain).connect(audio.destination)
  oscillator.start(start)
  oscillator.stop(start + 0.65)
}
