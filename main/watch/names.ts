/** `.fits .fit .fts .fits.fz .fz`, in any case. */
export const isFitsName = (name: string): boolean => /\.(fits|fit|fts|fz)$/i.test(name)
