/** `count(1, 'file', 'files')` → "1 file". */
export const count = (n: number, one: string, many: string): string => `${n} ${n === 1 ? one : many}`
