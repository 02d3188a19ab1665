/** An error for a person: one sentence that says what to do. Everything else that is thrown is a fault of ours. */
export class Refusal extends Error {
  override name = 'Refusal'
}
