import { readStored, writeStored } from './stored.ts'

export const LOOKS = ['warm', 'red-lamp'] as const
export type LookName = (typeof LOOKS)[number]

export const lookName: Record<LookName, string> = { warm: 'Warm', 'red-lamp': 'Red lamp' }

const isLook = (text: string | null): text is LookName => LOOKS.includes(text as LookName)

/** The look by the address (`?look=red-lamp`), else as last chosen, else warm. */
export function firstLook(search: string, stored: string | null): LookName {
  const asked = new URLSearchParams(search).get('look')
  return isLook(asked) ? asked : isLook(stored) ? stored : 'warm'
}

export class Look {
  #name = $state<LookName>('warm')

  constructor(search: string) {
    this.#name = firstLook(search, readStored('look'))
    this.#show()
  }

  get name() {
    return this.#name
  }

  get red() {
    return this.#name === 'red-lamp'
  }

  choose = (name: LookName) => {
    this.#name = name
    writeStored('look', name)
    this.#forgetAskedLook()
    this.#show()
  }

  toggle = () => this.choose(this.red ? 'warm' : 'red-lamp')

  #show() {
    document.documentElement.dataset.look = this.#name
  }

  /** A look chosen on the page outweighs the one in its address, also after a reload. */
  #forgetAskedLook() {
    const address = new URL(location.href)
    if (!address.searchParams.has('look')) return
    address.searchParams.delete('look')
    history.replaceState(history.state, '', address)
  }
}
