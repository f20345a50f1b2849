import { posix } from 'node:path';
import ts from 'typescript';
import type { Tree } from './tree.ts';

/** An import (or re-export) as written, and where it leads. */
export interface Import {
  readonly from: string;
  readonly line: number;
  readonly specifier: string;
  /** path in the tree for a relative one; null for a package */
  readonly target: string | null;
  /** name of the package, `node:` for Node's own modules; null for a relative one */
  readonly package: string | null;
  /** gone after compilation. `import { type A }` stays as an empty import, so it isn't (verbatimModuleSyntax) */
  readonly typeOnly: boolean;
  /** imported names; `*` for all, `default` */
  readonly names: readonly string[];
}

export function parseSource(path: string, text: string): ts.SourceFile {
  const script = path.endsWith('.svelte') ? scriptsOf(text) : text;
  return ts.createSourceFile(path, script, ts.ScriptTarget.Latest, true, ts.ScriptKind.TS);
}

/** A component's scripts, each on the lines where it stands. */
function scriptsOf(component: string): string {
  const blank = (text: string) => text.replace(/[^\n]/g, ' ');
  let place = 0;
  let scripts = '';
  for (const match of component.matchAll(/<script[^>]*>([\s\S]*?)<\/script>/g)) {
    const start = match.index + match[0].indexOf('>') + 1;
    scripts += blank(component.slice(place, start)) + match[1];
    place = start + match[1]!.length;
  }
  return scripts + blank(component.slice(place));
}

export const lineOf = (source: ts.SourceFile, node: ts.Node): number =>
  source.getLineAndCharacterOfPosition(node.getStart(source)).line + 1;

export function eachNode(root: ts.Node, visit: (node: ts.Node) => void): void {
  visit(root);
  ts.forEachChild(root, (child) => eachNode(child, visit));
}

/** Every import of one file, `import()` with a literal among them. */
export function importsOf(path: string, text: string): Import[] {
  const source = parseSource(path, text);
  const found: Import[] = [];
  eachNode(source, (node) => {
    const literal = specifierOf(node);
    if (!literal || !ts.isStringLiteralLike(literal)) return;
    found.push({
      from: path,
      line: lineOf(source, node),
      specifier: literal.text,
      ...destination(path, literal.text),
      typeOnly: isTypeOnly(node),
      names: namesOf(node),
    });
  });
  return found;
}

function specifierOf(node: ts.Node): ts.Expression | undefined {
  if (ts.isImportDeclaration(node) || ts.isExportDeclaration(node)) return node.moduleSpecifier;
  if (ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword)
    return node.arguments[0];
  if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument)) {
    return node.argument.literal as ts.StringLiteral;
  }
  return undefined;
}

function isTypeOnly(node: ts.Node): boolean {
  if (ts.isImportDeclaration(node)) return node.importClause?.phaseModifier === ts.SyntaxKind.TypeKeyword;
  if (ts.isExportDeclaration(node)) return node.isTypeOnly;
  return ts.isImportTypeNode(node);
}

function namesOf(node: ts.Node): string[] {
  if (ts.isImportTypeNode(node)) return [node.qualifier?.getText() ?? '*'];
  if (ts.isExportDeclaration(node)) {
    const clause = node.exportClause;
    return clause && ts.isNamedExports(clause)
      ? clause.elements.map((e) => (e.propertyName ?? e.name).text)
      : ['*'];
  }
  if (!ts.isImportDeclaration(node)) return ['*'];
  const { name, namedBindings } = node.importClause ?? {};
  const named =
    namedBindings && ts.isNamedImports(namedBindings)
      ? namedBindings.elements.map((e) => (e.propertyName ?? e.name).text)
      : namedBindings
        ? ['*']
        : [];
  return name ? ['default', ...named] : named;
}

function destination(path: string, specifier: string): { target: string | null; package: string | null } {
  if (specifier.startsWith('.')) {
    const target = posix.join(posix.dirname(path), specifier.replace(/\?.*$/, ''));
    return { target, package: null };
  }
  if (specifier.startsWith('node:')) return { target: null, package: 'node:' };
  const depth = specifier.startsWith('@') ? 2 : 1;
  return { target: null, package: specifier.split('/').slice(0, depth).join('/') };
}

/** Every import of every source file that `which` lets through. */
export const importsIn = (tree: Tree, which: (path: string) => boolean): Import[] =>
  [...tree].filter(([path]) => which(path)).flatMap(([path, text]) => importsOf(path, text));
