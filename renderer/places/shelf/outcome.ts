import type { Answer, Master } from '../../../main/contract/index.ts'
import { fieldsOf, nameOf, type Candidate, type Field, type Source } from './answers.ts'

type Added = Answer<'addMasters'>

/** What several answers came to together. */
export class Outcome {
  added = 0
  already = 0
  readonly candidates: Candidate[] = []
  readonly refused: { name: string; reason: string }[] = []

  /** Whether this file is among those that came back. */
  speaksOf = ({ key }: Candidate) => this.candidates.some((one) => one.key === key)

  add({ added, already = [], refused }: Added, sources: readonly Source[]) {
    this.added += added.length
    this.already += already.length
    for (const master of [...added, ...already]) {
      const lacks = [...unconfirmedFields(master), ...(added.includes(master) ? unlit(master) : [])]
      if (lacks.length)
        this.candidates.push({
          key: master.path,
          name: nameOf(master.path),
          source: { path: master.path },
          lacks,
          suggests: {},
          added: true,
        })
    }
    for (const one of refused) {
      const source: Source = one.incoming
        ? (sources.find((sent) => 'incoming' in sent && sent.incoming === one.incoming) ?? { path: one.path })
        : { path: one.path }
      const name = 'name' in source ? source.name : nameOf(one.path)
      const { lacks, suggests } = fieldsOf(one)
      if (!lacks.length) this.refused.push({ name, reason: one.reason })
      else this.candidates.push({ key: one.incoming ?? one.path, name, source, lacks, suggests, added: false })
    }
  }
}

/** What lit a flat is asked once; it serves without. */
const unlit = ({ kind, lightSource }: Master): Field[] => (kind === 'flat' && !lightSource ? ['lightSource'] : [])

/** Without these it is on the shelf, and matches nothing for certain. */
function unconfirmedFields({ scale, subtracted, frames }: Master): Field[] {
  if (scale !== null && subtracted !== null) return []
  return [
    ...(frames === null ? (['frames'] as const) : []),
    ...(scale === null ? (['scale'] as const) : []),
    ...(subtracted === null ? (['subtracted'] as const) : []),
  ]
}
