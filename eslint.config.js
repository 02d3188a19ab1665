import ts from 'typescript-eslint'
import svelte from 'eslint-plugin-svelte'
import { importDirections } from './eslint.directions.js'

/** Pure folders take values and return values: no disk, no database, no clock. */
const impure = ['node:*', 'fs', 'fs/*', 'better-sqlite3', 'chokidar', 'electron']

export default ts.config(
  { ignores: ['out/**', 'main/*/kernels/assembly/**'] },
  ts.configs.recommended,
  svelte.configs.recommended,
  {
    files: ['**/*.svelte', '**/*.svelte.ts'],
    languageOptions: { parserOptions: { parser: ts.parser, extraFileExtensions: ['.svelte'] } },
  },
  {
    plugins: { nightshelf: { rules: { 'import-directions': importDirections } } },
    rules: {
      'nightshelf/import-directions': 'error',
      'no-undef': 'off',
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      'svelte/no-navigation-without-resolve': 'off',
    },
  },
  {
    files: ['main/frame/**', 'main/match/**', 'main/rules/**', 'main/contract/**'],
    rules: {
      'no-restricted-imports': ['error', { patterns: impure }],
      'no-restricted-properties': [
        'error',
        { object: 'Date', property: 'now', message: 'The clock is passed in: this folder is pure.' },
      ],
      'no-restricted-syntax': [
        'error',
        {
          selector: 'NewExpression[callee.name="Date"][arguments.length=0]',
          message: 'The clock is passed in: this folder is pure.',
        },
      ],
    },
  },
)
