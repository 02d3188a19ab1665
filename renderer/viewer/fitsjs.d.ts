declare module 'fitsjs/lib/fits.js?url' {
  const address: string
  export default address
}
