/** A way out of a refusal that each host offers in its own manner: an option of the command line, a button. */
export type WayOut =
  /** Take this master all the same. */
  | { take: number }
  /** Tell what the numbers of this master's file mean. */
  | { tell: string }
  /** Make what is lacking. */
  | { make: 'rig' }

/** An error for a person: one sentence that says what to do. Everything else that is thrown is a fault of ours. */
export class Refusal extends Error {
  override name = 'Refusal'
  readonly waysOut: readonly WayOut[]

  constructor(message: string, options: ErrorOptions & { waysOut?: WayOut[] } = {}) {
    super(message, options)
    this.waysOut = options.waysOut ?? []
  }
}
