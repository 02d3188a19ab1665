import {
  askMessageSchema,
  hostRequests,
  Refusal,
  requests,
  type AskMessage,
  type EngineLink,
  type FromEngine,
  type PageRequestName,
} from '../contract/index.ts'

/** True for a request of the contract that a page may ask. */
export function isPageRequest(name: string): name is PageRequestName {
  return Object.hasOwn(requests, name) && !Object.hasOwn(hostRequests, name)
}

/**
 * The one door between a page and the engine, the same in both hosts: name and input are checked against the contract
 * before anything else sees them, and whatever goes wrong becomes one sentence.
 * @param log hears faults of ours, with what was being done
 */
export async function answerPage(
  link: EngineLink,
  { id, request, input }: AskMessage,
  log: (line: string) => void = () => {},
): Promise<Exclude<FromEngine, { event: unknown }>> {
  if (!isPageRequest(request)) return { id, refused: `There is no request "${request.slice(0, 40)}".` }
  const checked = requests[request].input.safeParse(input)
  if (!checked.success) return { id, refused: whatIsWrong(request, checked.error.issues[0]) }
  try {
    return { id, answer: await link.ask(request, checked.data as never) }
  } catch (error) {
    if (error instanceof Refusal) return { id, refused: error.message }
    log(`A fault while answering "${request}": ${(error as Error).stack ?? String(error)}`)
    return { id, failed: `"${request}" failed through a fault of Nightshelf's own; its log says more.` }
  }
}

/** Reads one message of a page's socket; null if it is none. */
export function readAsk(text: string): AskMessage | null {
  try {
    return askMessageSchema.parse(JSON.parse(text))
  } catch {
    return null
  }
}

/** Some schemas of the contract bring a sentence of their own; the rest get the field and what was expected of it. */
function whatIsWrong(request: string, issue: { path: PropertyKey[]; message: string } | undefined): string {
  if (issue && /^[A-Z].*\.$/.test(issue.message)) return issue.message
  const field = issue?.path.length ? ` (${issue.path.map(String).join('.')}: ${issue.message})` : ''
  return `"${request}" was asked with something that it does not understand${field}.`
}
