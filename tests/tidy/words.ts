import { posix } from 'node:path';
import ts from 'typescript';
import { eachNode, lineOf, parseSource } from './source.ts';
import { isShipped, isSource, type Fault, type Tree } from './tree.ts';

/**
 * One word, one meaning (glossary in DEVELOPERS.md), as far as a machine can hold it: names of files, types, functions
 * and variables of our own. And what has no place in any text: paths of one machine, hosts of package registries,
 * stubs that apologise.
 */
const INSTEAD: Readonly<Record<string, string>> = {
  watermark: 'horizon or position',
  datum: 'sample',
  asset: 'unit, panel, space or site',
  incident: 'event or alarm',
  alert: 'event, alarm or notice',
  ticket: 'task',
  exception: 'refusal, or error',
};
const BAGS = /^(utils?|helpers?|types|constants|common|misc|shared|lib|index)\.(ts|svelte\.ts)$/;
const TYPE_NAME = /^I[A-Z][a-z]|(Type|Data|Manager|Helper|Util|Utils|Info|Impl)$/;
const FILE_NAME = /^[a-z0-9]+(-[a-z0-9]+)*(\.(test|config|svelte))*\.ts$|^[A-Z][A-Za-z0-9]*\.svelte$/;

const NOWHERE: readonly (readonly [RegExp, string])[] = [
  [/(^|[\s"'`(=])\/(work|home|Users)\/\w/, 'a path of one machine'],
  [/\bregistry\.[a-z]+js\.\w+|\bnpmjs\.(org|com)\b|deb\.debian\.org/i, 'the host of a package registry'],
  [/\b(TODO|FIXME|XXX|HACK)\b/, 'an apology: do it, or say in the issue that it is missing'],
  [/\bnot (yet )?implemented\b|\bplaceholder (code|implementation)\b/i, 'a stub'],
];

export function wordFaults(tree: Tree): Fault[] {
  const own = 'tests/tidy/';
  return [...tree].flatMap(([path, text]) => [
    ...fileNameFaults(path),
    ...(isShipped(path) ? nameFaults(path, text) : []),
    ...(path.startsWith(own) || path === 'LICENSE' ? [] : textFaults(path, text)),
  ]);
}

function fileNameFaults(path: string): Fault[] {
  const name = posix.basename(path);
  if (!isSource(path)) return [];
  if (BAGS.test(name)) return [`${path}: a bag or a barrel: name the file for the one thing it holds`];
  return FILE_NAME.test(name) || path === 'web/src/app.svelte'
    ? []
    : [`${path}: files are kebab-case, components PascalCase`];
}

function nameFaults(path: string, text: string): Fault[] {
  const source = parseSource(path, text);
  const faults: Fault[] = [];
  eachNode(source, (node) => {
    const name = declaredName(node);
    if (name === null) return;
    const line = lineOf(source, node);
    if (isTypeDeclaration(node) && TYPE_NAME.test(name))
      faults.push(`${path}:${line}: type ${name}: a noun without I, Type, Data, Manager, Helper, Util`);
    for (const word of wordsOf(name)) {
      if (word in INSTEAD) faults.push(`${path}:${line}: ${name}: say ${INSTEAD[word]}, not ${word}`);
    }
  });
  return faults;
}

const isTypeDeclaration = (node: ts.Node): boolean =>
  ts.isInterfaceDeclaration(node) || ts.isTypeAliasDeclaration(node) || ts.isClassDeclaration(node);

function declaredName(node: ts.Node): string | null {
  const declares =
    isTypeDeclaration(node) ||
    ts.isFunctionDeclaration(node) ||
    ts.isVariableDeclaration(node) ||
    ts.isParameter(node) ||
    ts.isPropertySignature(node) ||
    ts.isPropertyDeclaration(node) ||
    ts.isMethodDeclaration(node);
  if (!declares) return null;
  const { name } = node as ts.NamedDeclaration;
  return name && ts.isIdentifier(name) ? name.text : null;
}

/** `retryOverdueAt` → retry, overdue, at */
const wordsOf = (name: string): string[] => name.split(/(?=[A-Z])|[_-]/).map((word) => word.toLowerCase());

function textFaults(path: string, text: string): Fault[] {
  return text
    .split('\n')
    .flatMap((line, i) =>
      NOWHERE.filter(([pattern]) => pattern.test(line)).map(([, what]) => `${path}:${i + 1}: ${what}`),
    );
}
