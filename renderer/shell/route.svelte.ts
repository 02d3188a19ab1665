import { parseAddress, toPlace, type Address, type Place } from './address.ts'

/** Where the window is. Follows the address, and writes it. */
export class Route {
  #hash = $state('')
  readonly #address = $derived<Address>(parseAddress(this.#hash))

  constructor(hash = '') {
    this.#hash = hash
  }

  get address() {
    return this.#address
  }

  start(): () => void {
    const follow = () => (this.#hash = location.hash)
    follow()
    window.addEventListener('hashchange', follow)
    return () => window.removeEventListener('hashchange', follow)
  }

  go(place: Place) {
    location.hash = toPlace(place)
  }

  /** Changes the address without a new entry in the history: while a filter is being typed, or a token is spent. */
  replace(hash: string) {
    history.replaceState(history.state, '', location.pathname + location.search + hash)
    this.#hash = hash
  }
}
