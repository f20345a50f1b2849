import ts from 'typescript';
import { eachNode, lineOf, parseSource } from './source.ts';
import { isShipped, type Fault, type Tree } from './tree.ts';

/**
 * A ratchet from below rather than a wall. A file or function past the limit must stand in the list with its length,
 * and the list may only shrink: a length that has become smaller must be written down, one that has grown is refused.
 */
export const FILE_LINES = 300;
export const FUNCTION_LINES = 60;

/** lengths that stand above the limits, by `path` or `path#function` */
export type Ratchet = Readonly<Record<string, number>>;

export function sizeFaults(tree: Tree, ratchet: Ratchet): Fault[] {
  const past = new Map(measureAll(tree).filter(([name, lines]) => lines > limitOf(name)));
  const grown = [...past].flatMap(([name, lines]) => growth(name, lines, ratchet[name]));
  const gone = Object.keys(ratchet).filter((name) => !past.has(name));
  return [...grown, ...gone.map((name) => `${name}: is within the limit now: take it off the list`)];
}

const limitOf = (name: string): number => (name.includes('#') ? FUNCTION_LINES : FILE_LINES);

function growth(name: string, lines: number, listed: number | undefined): Fault[] {
  if (listed === undefined) return [`${name}: ${lines} lines, the limit is ${limitOf(name)}`];
  if (lines > listed) return [`${name}: ${lines} lines, grown from ${listed}`];
  return lines < listed ? [`${name}: shrunk to ${lines} lines: write that in the list`] : [];
}

/** Lines of every file that ships, and of every function in it. Tests may be long: they are tables and stories. */
export function measureAll(tree: Tree): (readonly [name: string, lines: number])[] {
  return [...tree]
    .filter(([path]) => isShipped(path))
    .flatMap(([path, text]) => [
      [path, text.trimEnd().split('\n').length] as const,
      ...functionsOf(path, text),
    ]);
}

function functionsOf(path: string, text: string): (readonly [string, number])[] {
  const source = parseSource(path, text);
  const found: (readonly [string, number])[] = [];
  eachNode(source, (node) => {
    if (!ts.isFunctionLike(node) || !('body' in node) || !node.body) return;
    const last = source.getLineAndCharacterOfPosition(node.getEnd()).line + 1;
    found.push([`${path}#${nameOf(node)}`, last - lineOf(source, node) + 1]);
  });
  return found;
}

function nameOf(node: ts.Node): string {
  const named = node as { name?: ts.Node };
  const { parent } = node;
  if (named.name) return named.name.getText();
  if (ts.isVariableDeclaration(parent) || ts.isPropertyAssignment(parent)) return parent.name.getText();
  return 'unnamed';
}

/** The n-th share of some lengths: `share(lines, 0.5)` is the median. */
export function share(lines: readonly number[], part: number): number {
  const sorted = lines.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * part))] ?? 0;
}
