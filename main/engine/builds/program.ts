import packageJson from '../../../package.json' with { type: 'json' }

/** What a master says of the program that wrote it (SWCREATE). */
export const PROGRAM = `Nightshelf ${packageJson.version}`
