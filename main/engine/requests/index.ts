import { Refusal, requests, type Handlers, type RequestName } from '../../contract/index.ts'
import type { Core } from '../core.ts'
import type { Builder } from '../builds/builder.ts'
import type { Inspections } from '../inspect/inspections.ts'
import { buildHandlers } from './builds.ts'
import type { BackupKeeper } from '../backups.ts'
import type { Mover } from '../data-folder/mover.ts'
import { dataHandlers } from './data.ts'
import { desktopHandlers } from './desktop.ts'
import { flatHandlers } from './flats.ts'
import { folderHandlers, type PlayDemo } from './folders.ts'
import { hostHandlers } from './host.ts'
import { inspectHandlers } from './inspect.ts'
import { libraryHandlers } from './library.ts'
import { nightHandlers } from './night.ts'
import { rigHandlers } from './rigs.ts'
import { settingsHandlers } from './settings.ts'
import { undoHandlers } from './undo.ts'

/** One handler per request of the contract; the compiler says which is lacking. */
export const handlersOf = (
  core: Core,
  builder: Builder,
  inspections: Inspections,
  backups: BackupKeeper,
  mover: Mover,
  playDemo: PlayDemo | undefined,
  close: () => Promise<void>,
): Handlers => ({
  ...nightHandlers(core),
  ...libraryHandlers(core),
  ...folderHandlers(core, playDemo),
  ...buildHandlers(core, builder),
  ...inspectHandlers(core, inspections),
  ...flatHandlers(core),
  ...rigHandlers(core),
  ...settingsHandlers(core),
  ...undoHandlers(core),
  ...dataHandlers(core, backups, mover),
  ...desktopHandlers(core),
  ...hostHandlers(core, close),
})

/**
 * Answers one request: its input is checked before anything sees it, its output before anybody else does.
 * @throws Refusal for an input that does not fit, or what the handler refuses; other errors are faults of ours
 */
export async function answer(handlers: Handlers, request: RequestName, input: unknown): Promise<unknown> {
  if (!Object.hasOwn(requests, request)) throw new Refusal(`There is no request "${String(request).slice(0, 40)}".`)
  const { input: asked, output } = requests[request]
  const checked = asked.safeParse(input)
  if (!checked.success) throw new Refusal(sayIssue(request, checked.error.issues[0]))
  const handle = handlers[request] as (input: unknown) => unknown
  return output.parse(await handle(checked.data))
}

function sayIssue(request: string, issue: { path: PropertyKey[]; message: string } | undefined): string {
  if (issue && /^[A-Z].*\.$/.test(issue.message)) return issue.message
  const where = issue?.path.length ? `${issue.path.map(String).join('.')}: ` : ''
  return `"${request}" was asked with something that it does not understand (${where}${issue?.message ?? 'no input'}).`
}
