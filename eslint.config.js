import js from '@eslint/js';
import globals from 'globals';
import svelte from 'eslint-plugin-svelte';
import ts from 'typescript-eslint';

export default ts.config(
  { ignores: ['node_modules', 'data', '.cache', 'web/dist', 'tests/golden'] },
  js.configs.recommended,
  ...ts.configs.strict,
  ...svelte.configs.recommended,
  {
    rules: {
      'no-console': 'error',
      '@typescript-eslint/no-non-null-assertion': 'off',
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
    },
  },
  {
    files: ['db/**', 'ingest/**', 'server/**', 'tests/**', '*.js', '*.ts', 'web/vite.config.ts'],
    languageOptions: { globals: globals.node },
  },
  { files: ['web/**'], languageOptions: { globals: globals.browser } },
  { files: ['**/*.svelte', '**/*.svelte.ts'], languageOptions: { parserOptions: { parser: ts.parser } } },
  { files: ['tests/**'], rules: { 'no-console': 'off' } },
);
