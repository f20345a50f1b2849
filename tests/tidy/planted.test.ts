import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { cycleFaults } from './cycles.ts';
import { dependencyFaults } from './dependencies.ts';
import { documentFaults } from './documents.ts';
import { exportFaults } from './exports.ts';
import { layoutFaults } from './layout.ts';
import { purityFaults } from './purity.ts';
import { sizeFaults } from './size.ts';
import { sqlFaults } from './sql.ts';
import { readTree, type Fault, type Tree } from './tree.ts';
import { wordFaults } from './words.ts';

/** Each rule is fed what it must refuse, and what it must let pass. */
const tree = (files: Record<string, string>): Tree => new Map(Object.entries(files));

/** the tree as read from a real folder, so that reading is tested too */
function onDisk(files: Record<string, string>): Tree {
  const root = mkdtempSync(join(tmpdir(), 'tidy-'));
  try {
    for (const [path, text] of Object.entries(files)) {
      mkdirSync(dirname(join(root, path)), { recursive: true });
      writeFileSync(join(root, path), text);
    }
    return readTree(root);
  } finally {
    rmSync(root, { recursive: true });
  }
}

const refused = (faults: readonly Fault[], ...parts: string[]) => {
  expect(faults).toHaveLength(1);
  for (const part of parts) expect(faults[0]).toContain(part);
};

describe('run-time import cycles', () => {
  const third = { 'server/c.ts': `import { a } from './a.ts';\nexport const c = () => a;` };
  const round = {
    'server/a.ts': `import { b } from './b.ts';\nexport const a = b;`,
    'server/b.ts': `import { c } from './c.ts';\nexport const b = c;`,
  };

  test('a cycle of three files on disk is refused', () => {
    refused(cycleFaults(onDisk({ ...round, ...third })), 'server/a.ts → server/b.ts → server/c.ts');
  });
  test('the same without its last import passes', () => {
    expect(cycleFaults(onDisk({ ...round, 'server/c.ts': 'export const c = 1;' }))).toEqual([]);
  });
  test('a cycle closed by a type passes', () => {
    const typed = { 'server/c.ts': `import type { a } from './a.ts';\nexport const c = (x: typeof a) => x;` };
    expect(cycleFaults(tree({ ...round, ...typed }))).toEqual([]);
  });
  test('a cycle closed by an import whose every name is marked type is refused: the import itself stays', () => {
    const marked = {
      'server/c.ts': `import { type a } from './a.ts';\nexport const c = (x: typeof a) => x;`,
    };
    expect(cycleFaults(tree({ ...round, ...marked }))).toHaveLength(1);
  });
  test('a cycle through a re-export, an import() or a component is refused', () => {
    expect(cycleFaults(tree({ ...round, 'server/c.ts': `export { a as c } from './a.ts';` }))).toHaveLength(
      1,
    );
    expect(cycleFaults(tree({ ...round, 'server/c.ts': `export const c = import('./a.ts');` }))).toHaveLength(
      1,
    );
    const component = {
      'web/A.svelte': `<script lang="ts">\nimport { b } from './b.ts';\n</script>\n<p>{b}</p>`,
      'web/b.ts': `import A from './A.svelte';\nexport const b = A;`,
    };
    refused(cycleFaults(tree(component)), 'web/A.svelte → web/b.ts');
  });
  test('a file that imports itself is refused', () => {
    refused(cycleFaults(tree({ 'db/a.ts': `import { b } from './a.ts';\nexport const b = 1;` })), 'db/a.ts');
  });
});

describe('the import table', () => {
  const stands = {
    'shared/base/instant.ts': '',
    'shared/inference/fold.ts': '',
    'shared/building/room.ts': '',
    'db/pool.ts': '',
    'ingest/receive.ts': '',
    'server/follow.ts': '',
    'web/src/board.ts': '',
  };
  test.each([
    ['shared/base/a.ts', '../../db/pool.ts', 'shared may import shared'],
    ['db/a.ts', '../server/follow.ts', 'db may import db, shared'],
    ['ingest/a.ts', '../server/follow.ts', 'ingest may import'],
    ['server/a.ts', '../ingest/receive.ts', 'server may import'],
    ['web/src/a.ts', '../../db/pool.ts', 'web may import'],
    ['shared/base/a.ts', '../inference/fold.ts', 'shared/base stands on base'],
    ['shared/inference/a.ts', '../building/room.ts', 'shared/inference stands on'],
    ['shared/building/a.ts', '../inference/fold.ts', 'shared/building stands on'],
    ['shared/gadget/a.ts', '../base/instant.ts', 'no layer'],
    ['server/a.ts', './missing.ts', 'no such file'],
    ['server/a.ts', 'pg', 'pg belongs to db/'],
    ['shared/base/a.ts', 'node:fs', 'shared is pure'],
    ['shared/base/a.ts', 'pino', 'shared is pure'],
    ['web/src/a.ts', 'node:fs', 'runs in a browser'],
  ])('%s may not import %s', (from, specifier, why) => {
    refused(layoutFaults(tree({ ...stands, [from]: `import '${specifier}';` })), `${from}:1`, why);
  });
  test('a type is knowledge too', () => {
    const faults = layoutFaults(
      tree({ ...stands, 'db/a.ts': `import type { A } from '../server/follow.ts';` }),
    );
    refused(faults, 'db may import');
    const inline = { ...stands, 'db/a.ts': `export type A = import('../server/follow.ts').A;` };
    refused(layoutFaults(tree(inline)), 'db may import');
  });
  test.each([
    ['shared/inference/a.ts', '../base/instant.ts'],
    ['shared/building/a.ts', '../base/instant.ts'],
    ['db/a.ts', '../shared/inference/fold.ts'],
    ['db/a.ts', 'pg'],
    ['server/main.ts', '../ingest/receive.ts'],
    ['web/src/a.ts', '../../shared/base/instant.ts'],
    ['shared/base/a.ts', '@noble/hashes/sha2.js'],
  ])('%s may import %s', (from, specifier) => {
    expect(layoutFaults(tree({ ...stands, [from]: `import '${specifier}';` }))).toEqual([]);
  });
  test('a wrapped package has one importer', () => {
    const two = { 'ingest/a.ts': `import 'mqtt';`, 'ingest/b.ts': `import type { X } from 'mqtt';` };
    refused(layoutFaults(tree(two)), 'ingest/a.ts, ingest/b.ts', 'mqtt has one importer');
  });
});

describe('purity of shared', () => {
  test.each([
    'Date.now()',
    'new Date()',
    'new Date(2026, 2, 1)',
    'Date()',
    'Date.parse("2026-03-02")',
    'new Date(0).getHours()',
    'new Date(0).toLocaleString()',
    'Math.random()',
    'process.env',
    'setTimeout(() => {}, 1)',
    'performance.now()',
    'globalThis',
    'import.meta.url',
    'fetch("/")',
    '[1].map(setInterval)',
  ])('%s is refused', (text) => {
    refused(purityFaults(tree({ 'shared/base/a.ts': `export const a = ${text};` })), 'shared/base/a.ts:1');
  });
  test.each([
    'new Date(0)',
    'new Date(0).getUTCHours()',
    'Date.UTC(2026, 2)',
    'Math.max(1, 2)',
    '({ process: 1 })',
  ])('%s passes', (text) => {
    expect(purityFaults(tree({ 'shared/base/a.ts': `export const a = ${text};` }))).toEqual([]);
  });
  test('outside shared a clock may be read', () => {
    expect(purityFaults(tree({ 'server/a.ts': 'export const now = Date.now();' }))).toEqual([]);
  });
});

describe('SQL', () => {
  test.each([
    `'select id from sites where id = $1'`,
    '`insert into samples (t) values (${1})`',
    `'LISTEN committed'`,
    `'create table a (b int)'`,
    '`\n  with due as (select 1) select 1 from due`',
  ])('%s outside db is refused', (text) => {
    refused(
      sqlFaults(tree({ 'server/a.ts': `export const a = ${text};` })),
      'server/a.ts:1',
      'SQL outside db',
    );
  });
  test('in db it is at home, and a sentence is no statement', () => {
    expect(sqlFaults(tree({ 'db/a.ts': `export const a = 'select id from sites';` }))).toEqual([]);
    expect(
      sqlFaults(tree({ 'web/src/a.ts': `export const a = 'select a unit from the list';` })),
    ).toHaveLength(1);
    expect(sqlFaults(tree({ 'web/src/a.ts': `export const a = 'with a call waiting';` }))).toEqual([]);
  });
});

describe('sizes', () => {
  const long = (lines: number) => Array.from({ length: lines }, (_, i) => `// ${i}`).join('\n');
  const longFunction = (lines: number) => `export function rule() {\n${long(lines - 2)}\n}`;

  test('a file past the limit is refused, one at it passes', () => {
    refused(sizeFaults(tree({ 'server/a.ts': long(301) }), {}), 'server/a.ts: 301 lines');
    expect(sizeFaults(tree({ 'server/a.ts': long(300) }), {})).toEqual([]);
  });
  test('a function past the limit is refused, one at it passes', () => {
    refused(sizeFaults(tree({ 'server/a.ts': longFunction(61) }), {}), 'server/a.ts#rule: 61 lines');
    expect(sizeFaults(tree({ 'server/a.ts': longFunction(60) }), {})).toEqual([]);
  });
  test('what is listed may stay, may not grow, and must be written down when it shrinks', () => {
    const file = tree({ 'server/a.ts': long(310) });
    expect(sizeFaults(file, { 'server/a.ts': 310 })).toEqual([]);
    refused(sizeFaults(file, { 'server/a.ts': 309 }), 'grown from 309');
    refused(sizeFaults(file, { 'server/a.ts': 320 }), 'shrunk to 310');
    refused(sizeFaults(tree({ 'server/a.ts': long(10) }), { 'server/a.ts': 310 }), 'take it off the list');
  });
});

describe('dependencies', () => {
  const faults = (dependencies: Record<string, string>, guide: string, source: string) =>
    dependencyFaults(
      tree({
        'package.json': JSON.stringify({ dependencies }),
        'DEVELOPERS.md': guide,
        'server/a.ts': source,
      }),
    );

  test('one without a reason, one that nobody imports and one that is not listed are refused', () => {
    refused(faults({ fastify: '1' }, '', `import 'fastify';`), 'why fastify?');
    refused(faults({ fastify: '1' }, '`fastify`', ''), 'nobody imports fastify');
    refused(faults({}, '', `import 'pino';`), 'pino is imported');
  });
  test('one that is used and has its reason passes', () => {
    expect(faults({ fastify: '1' }, '`fastify` serves', `import { fastify } from 'fastify';`)).toEqual([]);
  });
});

describe('documents', () => {
  const faults = (files: Record<string, string>) => documentFaults(tree(files), (path) => path in files);

  test('a link, a code span or a comment that names a missing file is refused', () => {
    refused(faults({ 'README.md': 'See [how](docs/how.md).' }), 'README.md:1', 'docs/how.md');
    refused(faults({ 'DEVELOPERS.md': '\nIt is in `server/gone.ts`.' }), 'DEVELOPERS.md:2', 'server/gone.ts');
    refused(faults({ 'db/a.ts': '/** see shared/base/gone.ts */' }), 'shared/base/gone.ts');
  });
  test('a bare name may lie anywhere below the document, and nowhere else', () => {
    expect(faults({ 'web/README.md': '`live.ts`', 'web/src/net/live.ts': '' })).toEqual([]);
    refused(faults({ 'db/README.md': '`live.ts`', 'web/src/net/live.ts': '' }), 'db/README.md:1', 'live.ts');
  });
  test('what exists passes, from the root or from beside the document', () => {
    const files = {
      'db/README.md': '`pool.ts`, [up](../README.md), `db/pool.ts`',
      'db/pool.ts': '',
      'README.md': '',
    };
    expect(faults(files)).toEqual([]);
  });
  test('commands, patterns and addresses are no files, and the changelog may remember', () => {
    expect(
      faults({ 'README.md': '`npm start`, `/api/ready`, `*.ts`, [std](https://example.org/a.md)' }),
    ).toEqual([]);
    expect(faults({ 'CHANGELOG.md': '`server/gone.ts` went' })).toEqual([]);
  });
});

describe('dead exports', () => {
  test('a name that nobody imports is refused, its neighbour passes', () => {
    const files = {
      'server/a.ts': 'export const used = 1;\nexport const dead = used;\nexport type Gone = 1;',
      'server/main.ts': `import { used } from './a.ts';\nused;`,
    };
    expect(exportFaults(tree(files))).toEqual([
      'server/a.ts:2: nobody imports dead',
      'server/a.ts:3: nobody imports Gone',
    ]);
  });
  test('a test, a component, a renaming and a star are imports', () => {
    const a = { 'web/src/a.ts': 'export const a = 1;' };
    expect(
      exportFaults(tree({ ...a, 'tests/unit/a.test.ts': `import { a } from '../../web/src/a.ts';` })),
    ).toEqual([]);
    expect(
      exportFaults(tree({ ...a, 'web/src/A.svelte': `<script>import { a as b } from './a.ts';</script>` })),
    ).toEqual([]);
    expect(exportFaults(tree({ ...a, 'web/src/b.ts': `import * as all from './a.ts';` }))).toEqual([]);
  });
});

describe('words', () => {
  test.each([
    ['server/utils.ts', '', 'a bag or a barrel'],
    ['shared/base/index.ts', '', 'a bag or a barrel'],
    ['server/followWork.ts', '', 'kebab-case'],
    ['web/src/board.svelte', '', 'PascalCase'],
    ['server/a.ts', 'interface IUnit { a: 1 }', 'type IUnit'],
    ['server/a.ts', 'type SampleData = 1;', 'type SampleData'],
    ['server/a.ts', 'const lastWatermark = 1;', 'say horizon or position'],
    ['server/a.ts', 'function raiseAlert() {}', 'say event, alarm or notice'],
    ['server/a.ts', '// see /home/someone/notes', 'a path of one machine'],
    ['README.md', `from registry.${'npmjs'}.org`, 'the host of a package registry'],
    ['server/a.ts', '// TODO later', 'an apology'],
    ['server/a.ts', `throw new Error('not implemented');`, 'a stub'],
  ])('%s: %s is refused', (path, text, why) => {
    refused(wordFaults(tree({ [path]: text })), path, why);
  });
  test('the words of the trade pass', () => {
    const text = 'interface UnitStanding { readonly since: 1 }\nconst alarm = 1, notice = 2, sample = 3;';
    expect(
      wordFaults(tree({ 'shared/alarms/life-of-an-alarm.ts': text, 'web/src/UnitLine.svelte': '' })),
    ).toEqual([]);
  });
});
