import path from 'node:path'

/**
 * Imports point one way. A folder may import itself and the folders named here, nothing else of the project;
 * the picture in DEVELOPERS.md can be trusted because this table is checked.
 */
export const mayImport = {
  contract: [],
  fits: ['contract'],
  frame: ['contract', 'fits'],
  match: ['contract', 'frame'],
  rules: ['contract', 'frame', 'match'],
  measure: ['contract', 'fits'],
  integrate: ['contract', 'fits', 'measure'],
  inspect: ['contract', 'fits', 'frame', 'measure', 'integrate'],
  watch: ['contract', 'fits'],
  db: ['contract', 'frame'],
  engine: ['contract', 'fits', 'frame', 'match', 'rules', 'measure', 'integrate', 'inspect', 'watch', 'db'],
  demo: ['contract', 'fits'],
  host: [
    'contract',
    'fits',
    'frame',
    'match',
    'rules',
    'measure',
    'integrate',
    'inspect',
    'watch',
    'db',
    'engine',
    'demo',
  ],
  renderer: ['contract'],
}

/** `main/frame/kind.ts` → `frame`; `db/open.ts` → `db`; null outside the table (tests, configs). */
function folderOf(root, file) {
  const [top, second] = path.relative(root, file).split(path.sep)
  const folder = top === 'main' ? second : top
  return folder in mayImport ? folder : null
}

export const importDirections = {
  meta: { type: 'problem', schema: [] },
  create(context) {
    const from = folderOf(context.cwd, context.filename)
    if (!from) return {}
    const check = (node) => {
      const target = node.source?.value
      if (typeof target !== 'string' || !target.startsWith('.')) return
      const to = folderOf(context.cwd, path.resolve(path.dirname(context.filename), target))
      if (to && to !== from && !mayImport[from].includes(to))
        context.report({ node, message: `${from}/ may not import ${to}/ (see eslint.directions.js).` })
    }
    return {
      ImportDeclaration: check,
      ExportNamedDeclaration: check,
      ExportAllDeclaration: check,
      ImportExpression: check,
    }
  },
}
