import { dirname, resolve } from 'node:path';
import ts from 'typescript';
import { expect, test } from 'vitest';

/**
 * Impurity in `shared` fails to compile: its own tsconfig gives it the language and nothing of its surroundings. A file
 * is planted there (in memory) and compiled under those very settings, beside everything that stands.
 */
const CONFIG = 'shared/tsconfig.json';

const parsed = ts.parseJsonConfigFileContent(
  ts.readConfigFile(CONFIG, ts.sys.readFile).config,
  ts.sys,
  dirname(CONFIG),
);

function complaints(text: string): string[] {
  const planted = resolve('shared/base/planted.ts');
  const host = ts.createCompilerHost(parsed.options);
  const read = host.getSourceFile.bind(host);
  host.getSourceFile = (name, version) =>
    resolve(name) === planted ? ts.createSourceFile(name, text, version) : read(name, version);
  const program = ts.createProgram([...parsed.fileNames, planted], parsed.options, host);
  return program
    .getSemanticDiagnostics(program.getSourceFile(planted))
    .map(({ messageText }) => ts.flattenDiagnosticMessageText(messageText, ' '));
}

test('shared is compiled with the language alone', () => {
  expect(parsed.options.types).toEqual([]);
  expect(parsed.options.lib).toEqual(['lib.es2023.d.ts']);
});

test('process, timers, console, fetch and Node modules do not compile there', () => {
  const impure = ['process.env', 'setTimeout', 'console.log', 'fetch', 'performance', 'document'];
  const text = [`import 'node:fs';`, ...impure.map((name, i) => `export const a${i} = ${name};`)].join('\n');
  expect(complaints(text)).toHaveLength(impure.length + 1);
});

test('what is pure compiles', () => {
  expect(complaints('export const later = (t: number) => new Date(t).toISOString();')).toEqual([]);
});
