import ts from 'typescript';
import { importsIn, lineOf, parseSource } from './source.ts';
import { isShipped, isSource, type Fault, type Tree } from './tree.ts';

/**
 * Dead exports: a name that is exported and that no other file imports, tests included. Either nobody needs it, or its
 * own file alone does and the word `export` is too much. A type may be named in its own file's other exports alone: who
 * imports those may want its name.
 */
export function exportFaults(tree: Tree): Fault[] {
  const used = usedNames(tree);
  return [...tree]
    .filter(([path]) => isShipped(path) && /(?<!\.config)\.ts$/.test(path))
    .flatMap(([path, text]) => {
      const names = used.get(path) ?? new Set();
      if (names.has('*')) return [];
      return exportsOf(path, text)
        .filter(({ name }) => !names.has(name))
        .map(({ name, line }) => `${path}:${line}: nobody imports ${name}`);
    });
}

function usedNames(tree: Tree): Map<string, Set<string>> {
  const used = new Map<string, Set<string>>();
  const anySource = (path: string) => isSource(path) || path.endsWith('.js');
  for (const { from, target, names } of importsIn(tree, anySource)) {
    if (target === null || target === from) continue;
    used.set(target, new Set([...(used.get(target) ?? []), ...names]));
  }
  return used;
}

function exportsOf(path: string, text: string): { name: string; line: number }[] {
  const source = parseSource(path, text);
  return source.statements
    .filter((statement) => !(isTypeDeclaration(statement) && isNamedAgain(text, statement.name.text)))
    .flatMap((statement) => namesOf(statement).map((name) => ({ name, line: lineOf(source, statement) })));
}

const isTypeDeclaration = (statement: ts.Statement) =>
  ts.isInterfaceDeclaration(statement) || ts.isTypeAliasDeclaration(statement);

const isNamedAgain = (text: string, name: string) => text.match(new RegExp(`\\b${name}\\b`, 'g'))!.length > 1;

function namesOf(statement: ts.Statement): string[] {
  if (ts.isExportAssignment(statement)) return ['default'];
  if (ts.isExportDeclaration(statement)) {
    const clause = statement.exportClause;
    return clause && ts.isNamedExports(clause) ? clause.elements.map((e) => e.name.text) : [];
  }
  const modifiers = ts.canHaveModifiers(statement) ? (ts.getModifiers(statement) ?? []) : [];
  if (!modifiers.some((m) => m.kind === ts.SyntaxKind.ExportKeyword)) return [];
  if (modifiers.some((m) => m.kind === ts.SyntaxKind.DefaultKeyword)) return ['default'];
  if (ts.isVariableStatement(statement)) {
    return statement.declarationList.declarations.flatMap((d) => bound(d.name));
  }
  const named = statement as unknown as { name?: ts.Identifier };
  return named.name ? [named.name.text] : [];
}

const bound = (name: ts.BindingName): string[] =>
  ts.isIdentifier(name)
    ? [name.text]
    : name.elements.flatMap((element) => (ts.isBindingElement(element) ? bound(element.name) : []));
