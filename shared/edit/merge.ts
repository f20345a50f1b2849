import { same } from '../base/same.ts';
import { pointerOf, type Path } from './change.ts';

/**
 * Two people changed one document: mine is put on top of theirs. What only one of them changed is taken as changed; what both
 * changed otherwise is mine, and named, so that a person decides.
 */
export interface Merged {
  readonly document: unknown;
  /** where both changed the same thing, each in its own way */
  readonly clashes: readonly string[];
}

export function mergeEdits(base: unknown, mine: unknown, theirs: unknown): Merged {
  const clashes: string[] = [];
  const document = merged(base, mine, theirs, { path: [], clash: (path) => clashes.push(pointerOf(path)) });
  return { document, clashes };
}

interface Spot {
  readonly path: Path;
  readonly clash: (path: Path) => void;
}

function merged(base: unknown, mine: unknown, theirs: unknown, at: Spot): unknown {
  if (same(mine, base) || same(mine, theirs)) return theirs;
  if (same(theirs, base)) return mine;
  if (isObject(mine) && isObject(theirs)) return mergedObjects(isObject(base) ? base : {}, mine, theirs, at);
  const lists = [base ?? [], mine, theirs];
  if (lists.every(isNamedList)) return mergedLists(lists[0]!, lists[1]!, lists[2]!, at);
  at.clash(at.path);
  return mine;
}

type Named = Readonly<Record<string, unknown>>;

function mergedObjects(base: Named, mine: Named, theirs: Named, at: Spot): Named {
  const keys = [...new Set([...Object.keys(theirs), ...Object.keys(mine)])];
  const entries = keys.map((key) => {
    const value = merged(base[key], mine[key], theirs[key], { ...at, path: [...at.path, key] });
    return [key, value] as const;
  });
  return Object.fromEntries(entries.filter(([, value]) => value !== undefined));
}

/** Lists whose entries have names (ids; signals of points) are merged entry by entry: in their order, then mine. */
function mergedLists(
  base: readonly Named[],
  mine: readonly Named[],
  theirs: readonly Named[],
  at: Spot,
): Named[] {
  const names = [...new Set([...theirs, ...mine].map(nameIn))];
  const one = (list: readonly Named[], name: string) => list.find((entry) => nameIn(entry) === name);
  const merges = names.map((name) => {
    const place = mine.findIndex((entry) => nameIn(entry) === name);
    const path = [...at.path, place < 0 ? name : String(place)];
    return merged(one(base, name), one(mine, name), one(theirs, name), { ...at, path });
  });
  return merges.filter((entry): entry is Named => entry !== undefined);
}

const nameIn = (entry: Named): string => String(entry['id'] ?? entry['signal']);

function isNamedList(value: unknown): value is readonly Named[] {
  if (!Array.isArray(value) || !value.every(isObject)) return false;
  const names = value.map((entry) => entry['id'] ?? entry['signal']);
  return names.every((name) => typeof name === 'string') && new Set(names).size === names.length;
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
