/** MAD to standard deviation of a normal distribution, 1 / Φ⁻¹(3/4), with the digits that astropy.stats.mad_std uses. */
export const MAD_TO_SIGMA = 1.482602218505602
