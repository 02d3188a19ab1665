/**
 * What every answer to the page carries, in both hosts. Nothing is allowed but what the page is made of: its own scripts,
 * styles, fonts, pictures (also as blobs, since pictures are fetched with the session) and its own socket.
 */
export const contentSecurityPolicy = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "worker-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ')

export const pageHeaders: Readonly<Record<string, string>> = {
  'Content-Security-Policy': contentSecurityPolicy,
  'X-Content-Type-Options': 'nosniff',
  'Referrer-Policy': 'no-referrer',
  'X-Frame-Options': 'DENY',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Permissions-Policy': 'camera=(), microphone=(), geolocation=(), usb=(), serial=()',
}

/** For origins that a browser trusts (https, loopback, our own scheme); on others it is ignored, with a complaint. */
export const trustedOriginHeaders: Readonly<Record<string, string>> = {
  ...pageHeaders,
  'Cross-Origin-Opener-Policy': 'same-origin',
}
