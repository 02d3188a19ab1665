import { serve } from '../../measure/crew-member.ts'
import { describerOf } from './describe-file.ts'
import { packSights, type ReadAnswer, type ReadAsk } from './reader-messages.ts'
import { trySight } from './sight.ts'

/** A thread that reads headers of a backlog: opening, parsing and describing are two thirds of logging a frame. */
serve<ReadAsk, ReadAnswer>(({ files, context }) => {
  const describe = describerOf(context)
  return packSights(files.map((file) => trySight(file, describe)))
})
