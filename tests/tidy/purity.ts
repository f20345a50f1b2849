import ts from 'typescript';
import { eachNode, lineOf, parseSource } from './source.ts';
import { isSource, type Fault, type Tree } from './tree.ts';

/**
 * No clock, dice, environment, timer or host zone in `shared`. The compiler already refuses what isn't in the language
 * itself (shared/tsconfig.json: no ambient types); this refuses what is: `Date` can tell the time, `Math` throws dice,
 * and some methods of Date answer in the host's zone.
 */
const AMBIENT = new Set(
  'process performance crypto console globalThis fetch setTimeout setInterval setImmediate queueMicrotask requestAnimationFrame localStorage require Buffer'.split(
    ' ',
  ),
);
const CALLS = new Set(['Date.now', 'Date.parse', 'Math.random', 'Temporal.Now', 'import.meta']);
const HOST_ZONE =
  /^(get|set)(FullYear|Month|Date|Day|Hours|Minutes|Seconds|Milliseconds|TimezoneOffset)$|^toLocale(Date|Time)?String$|^to(Date|Time)String$/;

export function purityFaults(tree: Tree): Fault[] {
  return [...tree].filter(([path]) => path.startsWith('shared/') && isSource(path)).flatMap(fileFaults);
}

function fileFaults([path, text]: readonly [string, string]): Fault[] {
  const source = parseSource(path, text);
  const faults: Fault[] = [];
  eachNode(source, (node) => {
    const what = impurity(node);
    if (what !== null)
      faults.push(`${path}:${lineOf(source, node)}: ${what} in pure code: time and chance are arguments`);
  });
  return faults;
}

function impurity(node: ts.Node): string | null {
  if (ts.isNewExpression(node) && node.expression.getText() === 'Date') return dateReason(node);
  if (ts.isCallExpression(node) && node.expression.getText() === 'Date') return 'Date()';
  if (ts.isMetaProperty(node)) return 'import.meta';
  if (ts.isPropertyAccessExpression(node)) {
    if (CALLS.has(node.getText().replace(/\s/g, ''))) return node.getText();
    return HOST_ZONE.test(node.name.text) ? `.${node.name.text}` : null;
  }
  return ts.isIdentifier(node) && AMBIENT.has(node.text) && isUse(node) ? node.text : null;
}

/** `new Date()` asks a clock; `new Date(2026, 2, 1)` asks the host's zone; one number is arithmetic. */
function dateReason(node: ts.NewExpression): string | null {
  const count = node.arguments?.length ?? 0;
  if (count === 0) return 'new Date()';
  return count > 1 ? 'new Date(year, month, …)' : null;
}

/** not the name of somebody's property, parameter or field */
function isUse(node: ts.Identifier): boolean {
  const { parent } = node;
  if (ts.isPropertyAccessExpression(parent)) return parent.expression === node;
  if (ts.isPropertyAssignment(parent) || ts.isBindingElement(parent)) return parent.name !== node;
  return (
    !ts.isPropertySignature(parent) && !ts.isPropertyDeclaration(parent) && !ts.isMethodSignature(parent)
  );
}
