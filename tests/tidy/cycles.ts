import { importsIn } from './source.ts';
import { isSource, type Fault, type Tree } from './tree.ts';

/**
 * Run-time import cycles, anywhere. Imports that are gone after compilation don't count; `import()` does. Each knot of
 * files that reach one another is one fault (strongly connected components, Tarjan 1972).
 */
export function cycleFaults(tree: Tree): Fault[] {
  const next = runtimeGraph(tree);
  return knots(next).map((files) => `${files.sort().join(' → ')}: import one another at run time`);
}

function runtimeGraph(tree: Tree): Map<string, string[]> {
  const next = new Map([...tree.keys()].filter(isSource).map((path) => [path, [] as string[]]));
  for (const { from, target, typeOnly } of importsIn(tree, isSource)) {
    if (!typeOnly && target !== null && next.has(target)) next.get(from)!.push(target);
  }
  return next;
}

function knots(next: ReadonlyMap<string, readonly string[]>): string[][] {
  const order = new Map<string, number>();
  const least = new Map<string, number>();
  const open: string[] = [];
  const found: string[][] = [];
  const visit = (file: string): void => {
    order.set(file, order.size);
    least.set(file, order.get(file)!);
    open.push(file);
    for (const to of next.get(file)!) {
      if (!order.has(to)) visit(to);
      if (open.includes(to)) least.set(file, Math.min(least.get(file)!, least.get(to)!));
    }
    if (least.get(file) !== order.get(file)) return;
    const knot = open.splice(open.indexOf(file));
    if (knot.length > 1 || next.get(file)!.includes(file)) found.push(knot);
  };
  for (const file of next.keys()) if (!order.has(file)) visit(file);
  return found;
}
