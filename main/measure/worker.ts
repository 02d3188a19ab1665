import { atFile, serve } from './crew-member.ts'
import { measureFile, type MeasureAsk, type Measured } from './measure-file.ts'

serve<MeasureAsk, Measured>((ask) => atFile(ask.path, () => measureFile(ask)))
