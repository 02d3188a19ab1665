import { expect, test } from 'vitest'
import { targetFinder } from '../../main/frame/target-name.ts'

test.each([
  ['m31', 'M 31', true],
  ['M 31', 'm31', true],
  ['m-31', 'M 31 panel 2', true],
  ['panel 31', 'M 31 panel 2', true],
  ['hydre', 'Tête d’Hydre', true],
  ['TETE', 'Tête d’Hydre', true],
  ['ß', 'β Lyrae', false],
  ['β', 'β Lyrae', true],
  ['field 8', 'Field 7', false],
  ['m 32', 'M 31', false],
  ['%', 'Field 100%', false],
  ['  ', 'Field 7', false],
])('"%s" in "%s": %s', (search, target, found) => {
  expect(targetFinder(search)(target)).toBe(found)
})
