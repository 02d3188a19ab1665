import { describe, expect, it } from 'vitest'
import { sensorRulesSchema } from '../../main/contract/index.ts'
import { defaultSensorRules, sensorRulesFor } from '../../main/rules/sensor-rules.ts'

describe('sensor rules', () => {
  it.each(Object.values(defaultSensorRules))(
    'of the class $class are whole, each with its reason and source',
    (rules) => {
      expect(sensorRulesSchema.parse(rules)).toEqual(rules)
      for (const limit of Object.values(rules)) {
        if (typeof limit === 'string') continue
        expect(limit.reason).toMatch(/\.$/)
        expect(limit.source).not.toBe('')
      }
    },
  )

  it('take a camera that nobody spoke of for a glow sensor', () => {
    expect(sensorRulesFor({})('Owl 26C').class).toBe('glow')
    expect(sensorRulesFor({})(null).class).toBe('glow')
  })

  it('follow the choice for a camera, however its name is spelled', () =>
    expect(sensorRulesFor({ classOf: { 'owl 26c': 'quiet' } })('Owl 26C ').class).toBe('quiet'))

  it('hold what the user edited', () => {
    const yours = {
      ...defaultSensorRules.yours,
      floorS: { value: 5, reason: 'My panel flickers.', source: 'own tests' },
    }
    const rules = sensorRulesFor({ classOf: { 'Owl 26C': 'yours' }, edited: { yours } })
    expect(rules('Owl 26C').floorS.value).toBe(5)
    expect(rules('Heron 6').floorS.value).toBe(3)
  })

  it('allow bias frames and short flats to quiet sensors alone', () => {
    expect(defaultSensorRules.quiet.biasAllowed.value).toBe(true)
    expect(defaultSensorRules.quiet.floorS.value).toBe(0)
    expect(defaultSensorRules.glow.biasAllowed.value).toBe(false)
    expect(defaultSensorRules.glow.floorS.value).toBe(3)
  })
})
