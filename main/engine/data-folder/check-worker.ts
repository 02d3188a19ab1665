import { checkCopy } from '../../../db/backup.ts'
import { Refusal } from '../../contract/index.ts'
import { serve } from '../../measure/crew-member.ts'
import type { CheckAsk } from './check-thread.ts'

serve<CheckAsk, null>(({ file, least }) => {
  try {
    checkCopy(file, least)
    return null
  } catch (error) {
    // What is wrong with a copy is said to a person; where in our code that was found is not.
    throw new Refusal((error as Error).message)
  }
})
