import type { Verb } from '../verb.ts'

/** Every verb of the command line, in the order in which `--help` lists them. */
export const verbs: Verb[] = []
