export function whyNoWindow(machine: {
  platform: string
  env: Record<string, string | undefined>
  uid: number | undefined
}): string | null
export function installedRuntime(folder: string): string | null
export function fetchRuntime(folder: string, say: (line: string) => void): Promise<string | null>
