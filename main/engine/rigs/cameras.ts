import { Refusal, type Camera } from '../../contract/index.ts'
import { cameraRecords, knownBodies, knownCameras, putCamera, type CameraRecord } from '../../../db/tables/cameras.ts'
import type { Readable } from '../../../db/handle.ts'
import type { Core } from '../core.ts'

const plain = (name: string) => name.trim().toUpperCase()

/** Every camera that was ever logged or spoken of, with its bodies. */
export function listCameras(db: Readable): Camera[] {
  const records = cameraRecords(db)
  const pairs = [...knownBodies(db), ...records.filter((record) => record.body !== '')]
  const names = uniqueWords([...knownCameras(db), ...records.map((record) => record.camera)])
  return names.map((camera) => {
    const own = records.filter((record) => plain(record.camera) === plain(camera))
    const whole = own.find((record) => record.body === '')
    const bodies = uniqueWords(pairs.filter((pair) => plain(pair.camera) === plain(camera)).map((pair) => pair.body))
    return {
      camera,
      class: whole?.class ?? 'glow',
      goneAt: whole?.goneAt ?? null,
      bodies: bodies.map((body) => ({
        body,
        goneAt: own.find((record) => plain(record.body) === plain(body))?.goneAt ?? null,
      })),
    }
  })
}

/** One spelling of each, the first, in order. */
const uniqueWords = (words: readonly string[]): string[] =>
  [...new Map([...words].reverse().map((word) => [plain(word), word])).values()].sort((a, b) => a.localeCompare(b))

/** Writes what was said of a camera, or of one body of it (`body`). @throws Refusal for one that nobody ever saw */
export function tellCamera(
  core: Core,
  named: string,
  body: string | null,
  change: Partial<Pick<CameraRecord, 'class' | 'goneAt'>>,
): Camera {
  const { db } = core
  const camera = listCameras(db).find((one) => plain(one.camera) === plain(named))
  if (!camera)
    throw new Refusal(`No frame or master of a camera "${named}" was ever logged: look how headers write it.`)
  const known = body === null ? '' : camera.bodies.find((one) => plain(one.body) === plain(body))?.body
  if (known === undefined) throw new Refusal(`No body "${body}" of ${camera.camera} is known.`)
  const before = cameraRecords(db).find(
    (record) => plain(record.camera) === plain(camera.camera) && plain(record.body) === plain(known),
  )
  putCamera(db, { camera: camera.camera, body: known, class: null, goneAt: null, ...before, ...change })
  core.changed('settings', 'night')
  return listCameras(db).find((one) => plain(one.camera) === plain(camera.camera))!
}
