import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

/** The repository's own text files by path from its root. Rules read nothing else, so a test can plant a violation. */
export type Tree = ReadonlyMap<string, string>;

/** One violation, as `path:line: what is wrong`. */
export type Fault = string;

const LEFT_OUT = new Set(['node_modules', 'data', 'dist', '.git', '.cache', 'golden']);
const TEXT =
  /\.(ts|js|svelte|json|md|sql|css|html|yml|yaml|conf)$|^(\.ci\/run|Dockerfile|LICENSE|\.\w+ignore)$/;

export function readTree(root: string, folder = ''): Tree {
  const tree = new Map<string, string>();
  for (const entry of readdirSync(join(root, folder), { withFileTypes: true })) {
    const path = folder === '' ? entry.name : `${folder}/${entry.name}`;
    if (LEFT_OUT.has(entry.name)) continue;
    if (entry.isDirectory()) for (const [below, text] of readTree(root, path)) tree.set(below, text);
    else if (TEXT.test(path)) tree.set(path, readFileSync(join(root, path), 'utf8'));
  }
  return tree;
}

export const topFolder = (path: string): string =>
  path.includes('/') ? path.slice(0, path.indexOf('/')) : '';

export const isSource = (path: string): boolean => /\.(ts|svelte)$/.test(path) && !path.endsWith('.d.ts');

/** What runs or is compiled into the page: everything but tests and the tools' own settings at the top. */
export const isShipped = (path: string): boolean =>
  isSource(path) && ['shared', 'db', 'ingest', 'server', 'web'].includes(topFolder(path));
