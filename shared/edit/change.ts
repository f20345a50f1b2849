import { valueAt } from '../telemetry/json-pointer.ts';

/**
 * Steps of an edit, each giving a new document and sharing what it doesn't touch. A group whose last field is cleared goes
 * with it, for an empty one says nothing; so does a pair of numbers.
 */
export type Path = readonly string[];

export const pointerOf = (path: Path): string =>
  path.map((token) => `/${token.replaceAll('~', '~0').replaceAll('/', '~1')}`).join('');

/** What a value becomes at a path; undefined: not given any longer. */
export function putAt(document: unknown, path: Path, value: unknown): unknown {
  const [token, ...rest] = path;
  if (token === undefined) return value;
  const inner = putAt(valueAt(document, [token]), rest, value);
  if (Array.isArray(document) || (document === undefined && isIndex(token)))
    return putItem((document as unknown[] | undefined) ?? [], Number(token), inner);
  const { [token]: _, ...others } = isObject(document) ? document : {};
  const next = inner === undefined ? others : inOrder(document, token, { ...others, [token]: inner });
  return Object.keys(next).length === 0 && path.length > 0 ? undefined : next;
}

/** An entry of a list is never taken away by clearing its fields; a place without a value is null, and refused as that. */
function putItem(list: readonly unknown[], index: number, value: unknown): unknown {
  const next = Array.from(
    { length: Math.max(list.length, index + 1) },
    (_, i) => (list[i] ?? null) as unknown,
  );
  next[index] = value ?? (isObject(list[index]) ? {} : null);
  return next.every((one) => one === null) ? undefined : next;
}

const isIndex = (token: string): boolean => /^[0-9]+$/.test(token);
const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** A field that was there keeps its place, so that a document reads as it was written. */
function inOrder(before: unknown, token: string, after: Record<string, unknown>): Record<string, unknown> {
  if (!isObject(before) || !Object.hasOwn(before, token)) return after;
  return Object.fromEntries(Object.keys(before).map((key) => [key, after[key]]));
}

/** The entries of a list; none where there is no list. */
export const entriesAt = (document: unknown, path: Path): readonly unknown[] => {
  const list = valueAt(document, path);
  return Array.isArray(list) ? (list as unknown[]) : [];
};

export const addEntry = (document: unknown, list: Path, entry: unknown): unknown =>
  putAt(document, list, [...entriesAt(document, list), entry]);

export function removeEntry(document: unknown, list: Path, index: number): unknown {
  const rest = entriesAt(document, list).filter((_, i) => i !== index);
  return putAt(document, list, rest.length === 0 ? undefined : rest);
}

/** One place up or down. */
export function moveEntry(document: unknown, list: Path, index: number, by: 1 | -1): unknown {
  const entries = [...entriesAt(document, list)];
  const other = index + by;
  if (entries[index] === undefined || entries[other] === undefined) return document;
  [entries[index], entries[other]] = [entries[other], entries[index]];
  return putAt(document, list, entries);
}

/** An id that nobody has: `unit-3` after two units. Devices share one name space, with the word for the site. */
export function freeId(document: unknown, word: string): string {
  const taken = new Set(['site']);
  for (const list of ['gateways', 'spaces', 'panels', 'units'])
    for (const entry of entriesAt(document, [list])) {
      const id = isObject(entry) ? entry['id'] : undefined;
      if (typeof id === 'string') taken.add(id);
    }
  for (let n = 1; ; n++) if (!taken.has(`${word}-${n}`)) return `${word}-${n}`;
}
