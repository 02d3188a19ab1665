import { createCrew } from '../../measure/crew.ts'
import { describerOf, type DescribeContext } from './describe-file.ts'
import { unpackSights, type ReadAnswer, type ReadAsk } from './reader-messages.ts'
import { trySight, type FileBelow, type Sight } from './sight.ts'

/** Fewer new files than this are read here: threads take longer to start than that. */
const WORTH_THREADS = 1500
/** Chunks that are read ahead of the one that is being logged. */
const AHEAD = 4

/** Reads chunks of files ahead, in order: in threads where there are many, else in place when each is asked for. */
export interface Reader {
  /** Sights of the next chunk, in the order of its files. */
  next(): Promise<Sight[]> | Sight[]
  close(): Promise<void>
}

export function createReader(chunks: readonly FileBelow[][], context: DescribeContext): Reader {
  const total = chunks.reduce((sum, chunk) => sum + chunk.length, 0)
  return total < WORTH_THREADS ? readInPlace(chunks, context) : readInThreads(chunks, context)
}

function readInPlace(chunks: readonly FileBelow[][], context: DescribeContext): Reader {
  const describe = describerOf(context)
  let at = 0
  return { next: () => chunks[at++].map((file) => trySight(file, describe)), close: () => Promise.resolve() }
}

function readInThreads(chunks: readonly FileBelow[][], context: DescribeContext): Reader {
  const source = import.meta.url.endsWith('.ts')
  const crew = createCrew<ReadAsk, ReadAnswer>(
    new URL(source ? './reader-worker.ts' : './reader-worker.js', import.meta.url),
    2,
  )
  const ahead: Promise<Sight[]>[] = []
  let asked = 0
  const fill = () => {
    while (ahead.length < AHEAD && asked < chunks.length) {
      const sights = crew.ask({ files: chunks[asked++], context }).then(unpackSights)
      // Whoever asks for it hears of a failure; until then it is nobody's.
      sights.catch(() => {})
      ahead.push(sights)
    }
  }
  fill()
  return {
    next() {
      const sights = ahead.shift()!
      fill()
      return sights
    },
    close: () => crew.close(),
  }
}
