import { existsSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { cycleFaults } from './cycles.ts';
import { dependencyFaults } from './dependencies.ts';
import { documentFaults } from './documents.ts';
import { exportFaults } from './exports.ts';
import { layoutFaults } from './layout.ts';
import { purityFaults } from './purity.ts';
import { FILE_LINES, FUNCTION_LINES, measureAll, share, sizeFaults, type Ratchet } from './size.ts';
import { sqlFaults } from './sql.ts';
import { readTree } from './tree.ts';
import { wordFaults } from './words.ts';

const tree = readTree('.');

test('every import keeps to the table', () => expect(layoutFaults(tree)).toEqual([]));
test('no files import one another at run time', () => expect(cycleFaults(tree)).toEqual([]));
test('shared knows no clock, no dice, no environment', () => expect(purityFaults(tree)).toEqual([]));
test('all SQL is in db', () => expect(sqlFaults(tree)).toEqual([]));
test('whatever is exported is imported somewhere', () => expect(exportFaults(tree)).toEqual([]));
test('every dependency is used, and has its reason', () => expect(dependencyFaults(tree)).toEqual([]));
test('documents and comments name files that exist', () => {
  expect(documentFaults(tree, existsSync)).toEqual([]);
});
test('names keep to the glossary, and no text speaks of a machine', () => {
  expect(wordFaults(tree)).toEqual([]);
});

test('files and functions stay short, and those that are not only shrink', () => {
  const ratchet = JSON.parse(readFileSync('tests/tidy/ratchet.json', 'utf8')) as Ratchet;
  expect(sizeFaults(tree, ratchet)).toEqual([]);
});

test('by far the most files and functions fit on a screen', () => {
  const measured = measureAll(tree);
  const files = measured.filter(([name]) => !name.includes('#')).map(([, lines]) => lines);
  const functions = measured.filter(([name]) => name.includes('#')).map(([, lines]) => lines);
  const figures = [files, functions].map((lines) => `${share(lines, 0.5)} / ${share(lines, 0.9)}`);
  console.log(`median / nine in ten: files ${figures[0]} lines, functions ${figures[1]}`);
  expect(share(files, 0.9)).toBeLessThan(FILE_LINES);
  expect(share(functions, 0.9)).toBeLessThan(FUNCTION_LINES);
});
