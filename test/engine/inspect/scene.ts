import { mkdirSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { expose, type Exposure } from '../../../main/demo/exposure.ts'
import { encodeMaster } from '../../../main/demo/frame-file.ts'
import { cameraCards } from '../../../main/demo/header.ts'
import type { ShelfMaster } from '../../../main/demo/library.ts'
import { flatLight, type Panel } from '../../../main/demo/panel.ts'
import { Random } from '../../../main/demo/random.ts'
import { larkfield, targets } from '../../../main/demo/rig.ts'
import { fieldOf, skyLight } from '../../../main/demo/sky.ts'
import { Studio } from '../../../main/demo/studio.ts'
import { illumination, type Shadow } from '../../../main/demo/train.ts'
import { encodeFits, type NewCard } from '../../../main/fits/write.ts'
import { freshFolder } from '../night-files.ts'

/** The demo's simulated camera, small, taking the frames that a test asks for: what is planted is known. */
export const NIGHT = '2026-11-20'
const SEED = 7

export interface Scene {
  folder: string
  studio: Studio
  /** Writes a master into `shelf/`. @returns its path */
  master(master: Partial<ShelfMaster> & Pick<ShelfMaster, 'file' | 'kind' | 'exposureS'>): string
  flat(name: string, shot?: FlatOptions): string
  dark(name: string, shot?: DarkOptions): string
  light(name: string, shot?: LightOptions): string
}

interface Common {
  exposureS?: number
  tempC?: number
  offset?: number
  gain?: number
  startedAt?: string
  more?: NewCard[]
}
export interface FlatOptions extends Common {
  panel?: Partial<Panel>
  shadows?: Shadow[]
  rotationDeg?: number
  filter?: string
  /** The panel's brightness over the one that was set. */
  factor?: number
}
export interface DarkOptions extends Common {
  pedestalStepAdu?: number
}
export interface LightOptions extends Common {
  filter?: string
}

/** Sensors of one size are the same one: made once. */
const studios = new Map<string, Studio>()
function studioOf(size: { width: number; height: number }): Studio {
  const key = `${size.width} × ${size.height}`
  const studio = studios.get(key) ?? new Studio(size, SEED)
  studios.set(key, studio)
  return studio
}

export function createScene(size = { width: 518, height: 352 }): Scene {
  const folder = freshFolder()
  const studio = studioOf(size)
  const { sensor } = studio
  let shots = 0
  const write = (name: string, bytes: Uint8Array) => {
    const path = join(folder, name)
    mkdirSync(dirname(path), { recursive: true })
    writeFileSync(path, bytes)
    return path
  }
  const shoot = (name: string, imageType: string, filter: string | null, exposure: Exposure, common: Common) => {
    const { startedAt = `${NIGHT}T22:00:00Z`, more = [] } = common
    const about = {
      imageType,
      filter,
      exposureS: exposure.exposureS,
      sensorTempC: exposure.sensorTempC,
      setTempC: exposure.sensorTempC,
      gain: exposure.gain,
      offset: exposure.offset,
      startedAtMs: Date.parse(startedAt) + shots++ * 1000,
    }
    const image = expose(sensor, exposure, new Random(SEED, name, shots), new Uint16Array(size.width * size.height))
    const cards = [...cameraCards(sensor, larkfield, about), ...more]
    return write(
      `capture/${name}.fits`,
      encodeFits({ ...size, bitpix: 16, unsigned: true, cards, image, checksum: false }),
    )
  }
  const settings = ({ exposureS = 6, tempC = -10, offset = 30, gain = 100 }: Common) => ({
    exposureS,
    sensorTempC: tempC,
    offset,
    gain,
  })
  return {
    folder,
    studio,
    master: (master) => {
      const whole: ShelfMaster = {
        tells: '',
        daysBefore: 30,
        tempC: -10,
        gain: 100,
        offset: 30,
        frames: 25,
        stored: 'float32',
        ...(master.kind === 'flat' && { filter: 'dual-band', levelAdu: 27_500 }),
        ...master,
      }
      return write(`shelf/${whole.file}`, encodeMaster(studio, whole, NIGHT))
    },
    flat: (name, shot = {}) => {
      const { filter = 'dual-band', panel, shadows, rotationDeg, factor } = shot
      const s = settings(shot)
      const light = flatLight(sensor, larkfield, {
        ...s,
        filter,
        rotationDeg,
        extraShadows: shadows,
        panel: { levelAdu: 27_500, tiltX: 0.012, tiltY: -0.007, ...panel },
      })
      return shoot(name, 'FLAT', filter, { ...s, light, lightFactor: factor }, shot)
    },
    dark: (name, shot = {}) =>
      shoot(
        name,
        'DARK',
        null,
        { ...settings({ exposureS: 300, ...shot }), light: null, pedestalStepAdu: shot.pedestalStepAdu },
        shot,
      ),
    light: (name, shot = {}) => {
      const { filter = 'luminance' } = shot
      const pointing = { dx: 3, dy: -2, flipped: false, fwhmPx: 3, skyFactor: 1, transparency: 1 }
      const view = { field: fieldOf(targets.weir, sensor), pointing }
      const lit = illumination(larkfield, sensor, { filter })
      const light = skyLight(larkfield, sensor, filter, view, lit, new Float32Array(lit.length))
      return shoot(name, 'LIGHT', filter, { ...settings({ exposureS: 300, ...shot }), light }, shot)
    },
  }
}
