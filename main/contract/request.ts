import { z } from 'zod'

/** A request: its input and output schema. Handlers, preload, socket and client types are all inferred from it. */
export interface RequestDefinition<I extends z.ZodType = z.ZodType, O extends z.ZodType = z.ZodType> {
  input: I
  output: O
  /** True where it changes something: such a request is never answered from a GET. */
  changes: boolean
}

/** A request that only reads. */
export const asks = <I extends z.ZodType, O extends z.ZodType>(input: I, output: O): RequestDefinition<I, O> => ({
  input,
  output,
  changes: false,
})

/** A request that changes something. */
export const does = <I extends z.ZodType, O extends z.ZodType>(input: I, output: O): RequestDefinition<I, O> => ({
  input,
  output,
  changes: true,
})

/** No input. */
export const nothing = z.object({}).strict()
