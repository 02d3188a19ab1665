import fitsjs from 'fitsjs/lib/fits.js?url'

/** Where the unbundled library stands in the built page. */
export const libraryAddress = new URL(fitsjs, document.baseURI).href

/** A classic worker: it loads a script, which a module worker cannot. */
export const createImageWorker = () => new Worker(new URL('./worker.ts', import.meta.url), { name: 'image' })
