export function endWithNpmShell(): void
