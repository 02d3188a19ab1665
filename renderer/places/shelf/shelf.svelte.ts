import type { CoverageNeed } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import { Live } from '../../client/live.svelte.ts'
import { inSlices } from '../../parts/slices.ts'
import { sentenceFor } from '../../client/troubles.svelte.ts'
import { Disconnected } from '../../client/transport.ts'
import { findRows, readWords } from './find.ts'
import { Sorter, type SortColumn, type Sorting } from './order.ts'
import { idSet, noRows, RowsBuilder } from './rows.ts'

/** The first page is small, so that the table is there at once; each later one is read within a frame. */
const FIRST_PAGE = 500
const PAGE = 4_000
/** A shelf that changes while it is read is begun anew, so often at most. */
const MOST_TRIES = 5
/** Until the settings are told. */
const OLD_DAYS = 365

/** The shelf as it was read last, so that the place is there at once when it is opened again. */
const lastRead = new WeakMap<Client, Sorter>()

/** The masters on the shelf as rows, what lights ask of them, and the rows that the typed words find. */
export class ShelfState {
  readonly #client: Client
  readonly #now: () => number
  readonly #coverage: Live<'coverage'>
  readonly #settings: Live<'settings'>
  #sorter = $state.raw(new Sorter(noRows))
  #known = $state(false)
  #total = $state(0)
  #failure = $state<string | null>(null)
  #find = $state('')
  #sorting = $state.raw<Sorting>({ by: null, descending: false })
  #haveRead = () => {}
  readonly #firstRead = new Promise<void>((resolve) => (this.#haveRead = resolve))
  #reading = false
  #again = false

  readonly #order = $derived(this.#sorter.order(this.#sorting))
  readonly #used = $derived.by(() => idSet(this.#coverage.answer?.used))
  readonly #near = $derived.by(() => idSet(this.#coverage.answer?.near))
  readonly #conditions = $derived.by(() =>
    readWords(this.#find, {
      rows: this.rows,
      nowMs: this.#now(),
      used: this.#used,
      near: this.#near,
      oldDays: this.oldDays,
    }),
  )
  readonly #found = $derived(findRows(this.#order, this.#conditions))

  /** @param now ms since 1970; read once a search, so that a ticking clock does not search again */
  constructor(client: Client, find: string, now: () => number) {
    this.#client = client
    this.#now = now
    this.#find = find
    this.#coverage = new Live(client, 'coverage', {}, ['library', 'settings', 'night'])
    this.#settings = new Live(client, 'settings', {}, ['settings'])
    const before = lastRead.get(client)
    if (before) this.#show(before, before.rows.count)
  }

  get rows() {
    return this.#sorter.rows
  }

  /** Masters on the shelf, those that are still being read included. */
  get total() {
    return this.#total
  }

  get known() {
    return this.#known
  }

  get failure() {
    return this.#failure
  }

  get needs(): readonly CoverageNeed[] {
    return this.#coverage.answer?.needs ?? []
  }

  /** True once it is known what lights ask for. */
  get asked() {
    return this.#coverage.answer !== undefined
  }

  get oldDays() {
    return this.#settings.answer?.settings.tolerances.darkAgingDays ?? OLD_DAYS
  }

  /** Rows that meet what was typed, in the order of the table. */
  get found() {
    return this.#found
  }

  /** What was understood of the words that were typed. */
  get conditions() {
    return this.#conditions
  }

  get find() {
    return this.#find
  }

  set find(words: string) {
    this.#find = words
  }

  get sorting() {
    return this.#sorting
  }

  /** By this column, downwards at the second time, and as usual at the third. */
  sortBy(column: SortColumn) {
    const { by, descending } = this.#sorting
    if (by !== column) this.#sorting = { by: column, descending: false }
    else if (!descending) this.#sorting = { by: column, descending: true }
    else this.#sorting = { by: null, descending: false }
  }

  start(): () => void {
    const offs = [
      this.#settings.start(),
      this.#client.on('changed', ({ what }) => {
        if (what.includes('library')) void this.#read()
      }),
      this.#client.whenUsable(() => void this.#read()),
    ]
    // What lights ask is read after the shelf itself: it takes longer where there are many nights.
    let stopped = false
    void this.#firstRead.then(() => void (stopped || offs.push(this.#coverage.start())))
    return () => {
      stopped = true
      for (const off of offs) off()
    }
  }

  /** Reads the whole shelf; asked for again meanwhile, it does so once more afterwards. */
  async #read() {
    this.#again = this.#reading
    if (this.#reading) return
    this.#reading = true
    try {
      do {
        this.#again = false
        await this.#readPages()
      } while (this.#again)
      this.#failure = null
    } catch (error) {
      // A lost connection has its own line on the page, and all is read again when it is back.
      if (!(error instanceof Disconnected)) this.#failure = sentenceFor(error, 'reading the shelf')
    }
    this.#reading = false
    this.#haveRead()
  }

  async #readPages() {
    for (let tries = 1; ; tries++) {
      let page = await this.#client.ask('shelf', { most: FIRST_PAGE })
      const { version, total } = page
      const builder = new RowsBuilder(total)
      builder.add(page)
      if (!this.#known && builder.count < total) this.#show(new Sorter(builder.build()), total)
      while (builder.count < total && page.columns.id.length && page.version === version) {
        page = await this.#client.ask('shelf', { after: page.columns.id.at(-1)!, most: PAGE })
        builder.add(page)
      }
      if (page.version !== version && tries < MOST_TRIES) continue
      const sorter = new Sorter(builder.build())
      await inSlices(sorter.prepare())
      lastRead.set(this.#client, sorter)
      this.#show(sorter, sorter.rows.count)
      return
    }
  }

  #show(sorter: Sorter, total: number) {
    this.#sorter = sorter
    this.#total = total
    this.#known = true
  }
}
