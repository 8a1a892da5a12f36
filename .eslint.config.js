import js from '@eslint/js';
import { createTypeScriptImportResolver } from 'eslint-import-resolver-typescript';
import { importX } from 'eslint-plugin-import-x';
import svelte from 'eslint-plugin-svelte';
import globals from 'globals';
import ts from 'typescript-eslint';

const CAPABILITIES = ['access', 'films', 'outline', 'footage', 'cards', 'originals', 'intake', 'proxies', 'selects', 'offers', 'notes', 'music', 'families', 'ledger', 'turnover', 'live', 'demo', 'sender'];
const isClientPart = ['./web'];

/** The house's import rules (DEVELOPERS.md, "Who may import whom"). */
const zones = [
  { target: './server/core', from: ['./server', './web', './prisma', './tests'], except: ['./core'], message: 'server/core is pure: it imports nothing of ours.' },
  ...CAPABILITIES.filter((name) => name !== 'live').map((name) => ({
    target: `./server/${name}`,
    from: CAPABILITIES.filter((other) => other !== name).map((other) => `./server/${other}/!(index|contract).ts`),
    message: 'Capabilities reach each other only through index.ts (and contract.ts for shapes).',
  })),
  ...CAPABILITIES.filter((name) => name !== 'live').map((name) => ({ target: `./server/${name}`, from: './server/live/!(contract).ts', message: 'Nobody imports live.' })),
  { target: './server/live', from: CAPABILITIES.filter((name) => name !== 'live').map((name) => `./server/${name}/!(index|contract).ts`), message: 'live reaches capabilities through index.ts.' },
  { target: './server', from: isClientPart, message: 'The server does not import the page.' },
  { target: './web/src', from: './server/!(core)/!(contract).ts', message: 'The page takes only server/core and contracts.' },
];

export default ts.config(
  { ignores: ['node_modules/', 'data/', 'web/dist/', 'prisma/client/', '**/*.d.ts'] },
  js.configs.recommended,
  ...ts.configs.strict,
  ...svelte.configs.recommended,
  {
    plugins: { 'import-x': importX },
    settings: { 'import-x/resolver-next': [createTypeScriptImportResolver({ project: ['tsconfig.json', 'web/tsconfig.json'], noWarnOnMultipleProjects: true })] },
    languageOptions: { globals: { ...globals.node, ...globals.browser } },
    rules: {
      'import-x/no-restricted-paths': ['error', { zones }],
      'import-x/no-cycle': ['error', { ignoreExternal: true }],
      'no-undef': 'off',
      eqeqeq: ['error', 'always'],
      'no-warning-comments': ['error', { terms: ['todo', 'fixme', 'xxx', 'hack'] }],
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      '@typescript-eslint/no-non-null-assertion': 'off',
      '@typescript-eslint/no-empty-function': 'off',
      '@typescript-eslint/no-explicit-any': 'off',
      '@typescript-eslint/no-invalid-void-type': 'off',
      'no-restricted-properties': ['error', { object: 'process', property: 'env', message: 'Only server/platform/config.ts, server/setup.ts and server/sender/main.ts read the environment.' }],
    },
  },
  { files: ['server/main.ts', 'server/setup.ts', 'server/sender/main.ts', 'tests/**', 'prisma/**'], rules: { 'no-restricted-properties': 'off' } },
  { files: ['web/src/**'], rules: { 'no-restricted-imports': ['error', { paths: [{ name: 'hls.js', message: 'Only web/src/player speaks to hls.js.' }] }] } },
  { files: ['web/src/player/**'], rules: { 'no-restricted-imports': 'off' } },
  // What no screen shows is a plain Map or Set; a snippet that is named is easier to read.
  { files: ['web/src/**'], rules: { 'svelte/prefer-svelte-reactivity': 'off', 'svelte/no-useless-children-snippet': 'off' } },
  { files: ['**/*.svelte', '**/*.svelte.ts'], languageOptions: { parserOptions: { parser: ts.parser, extraFileExtensions: ['.svelte'] } } },
);
