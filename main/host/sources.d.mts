export function newestSource(root: string): { newestMs: number; files: number }
export function whyNotRunnable(root: string): string | null
