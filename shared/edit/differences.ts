import { same } from '../base/same.ts';
import { valueAt } from '../telemetry/json-pointer.ts';
import { entriesAt, pointerOf } from './change.ts';
import { valueWords, type Entry, type Field } from './field.ts';
import { unknownFields, type EditedPart } from './inputs.ts';
import { fieldsOf, PARTS, SITE_LISTS } from './parts.ts';
import { isSignalName, SIGNALS } from '../telemetry/signals.ts';

/** What two documents of a site differ in, in words: before a document is saved, and between two of its history. */
export interface Difference {
  /** `Unit Room 12 (unit-1), cooling call`; empty: the site itself */
  readonly place: string;
  /** what changed there: `off-cycle delay: assumed 210 s → 180 s`, `added`, `removed` */
  readonly says: string;
  /** where it is in the later document; of something removed, in the earlier one */
  readonly pointer: string;
  readonly kind: 'changed' | 'added' | 'removed' | 'moved';
}

export function differences(before: unknown, after: unknown): Difference[] {
  return partDifferences({ document: before, at: SITE_PART }, { document: after, at: SITE_PART }, '');
}

const SITE_PART: EditedPart = { path: [], name: 'site', part: PARTS.site };

interface Side {
  readonly document: unknown;
  readonly at: EditedPart;
}

const entryOf = ({ document, at }: Side): Entry => (valueAt(document, at.path) ?? {}) as Entry;

function partDifferences(before: Side, after: Side, place: string): Difference[] {
  const [was, is] = [entryOf(before), entryOf(after)];
  const fields = fieldsOf(after.at.part).flatMap((field) =>
    fieldDifference(field, { was, is, place, after }),
  );
  const unknown = new Set([
    ...unknownFields(before.document, before.at),
    ...unknownFields(after.document, after.at),
  ]);
  const others = [...unknown]
    .filter((name) => !same(was[name], is[name]))
    .map((name) =>
      said(place, `the field “${name}”, which isn’t known here, is another`, [...after.at.path, name]),
    );
  const lists = after.at.name === 'site' ? [...after.at.part.lists, ...SITE_LISTS] : after.at.part.lists;
  return [
    ...fields,
    ...others,
    ...lists.flatMap((list) => listDifferences(before, after, { ...list, place })),
  ];
}

const said = (
  place: string,
  says: string,
  path: readonly string[],
  kind: Difference['kind'] = 'changed',
): Difference => ({
  place,
  says,
  pointer: pointerOf(path),
  kind,
});

function fieldDifference(
  field: Field,
  { was, is, place, after }: { was: Entry; is: Entry; place: string; after: Side },
): Difference[] {
  const [from, to] = [valueAt(was, field.path), valueAt(is, field.path)];
  if (same(from, to)) return [];
  const says = `${field.label}: ${valueWords(field, from, was)} → ${valueWords(field, to, is)}`;
  return [said(place, says, [...after.at.path, ...field.path])];
}

interface ListAt {
  readonly name: string;
  readonly of: EditedPart['name'];
  readonly one: string;
  readonly title: string;
  readonly place: string;
}

function listDifferences(before: Side, after: Side, list: ListAt): Difference[] {
  const [old, now] = [entriesIn(before, list), entriesIn(after, list)];
  const found: Difference[] = [];
  for (const { key, at } of now) {
    const was = old.find((one) => one.key === key);
    const place = placeWords(list, entryOf({ ...after, at }), at);
    if (was) found.push(...partDifferences({ ...before, at: was.at }, { ...after, at }, place));
    else found.push(said(place, 'added', at.path, 'added'));
  }
  for (const { key, at } of old)
    if (!now.some((one) => one.key === key))
      found.push(said(placeWords(list, entryOf({ ...before, at }), at), 'removed', at.path, 'removed'));
  const common = (side: typeof old, other: typeof old) =>
    side.map(({ key }) => key).filter((key) => other.some((one) => one.key === key));
  if (!same(common(old, now), common(now, old)))
    found.push(said(list.place, `${list.title}: in another order`, [...after.at.path, list.name], 'moved'));
  return found;
}

/** Entries by what names them: a device by its id, a point by its signal, anything else by its place. */
function entriesIn({ document, at }: Side, { name, of }: ListAt): { key: string; at: EditedPart }[] {
  const seen = new Map<string, number>();
  return entriesAt(document, [...at.path, name]).map((entry, i) => {
    const word = nameOf(of, entry) ?? `#${i}`;
    const times = seen.get(word) ?? 0;
    seen.set(word, times + 1);
    return {
      key: times === 0 ? word : `${word} ${times}`,
      at: { path: [...at.path, name, String(i)], name: of, part: PARTS[of] },
    };
  });
}

/** What tells an entry of a list from its like; null: its place alone. */
export function nameOf(of: EditedPart['name'], entry: unknown): string | null {
  if (typeof entry !== 'object' || entry === null) return null;
  const word = (entry as Entry)[of === 'point' ? 'signal' : 'id'];
  return typeof word === 'string' ? word : null;
}

function placeWords({ one, of, place }: ListAt, entry: Entry, at: EditedPart): string {
  const first = place === '' ? '' : `${place}, `;
  return `${first}${entryWords(of, entry) ?? `${one} ${Number(at.path.at(-1)) + 1}`}`;
}

/** `unit Room 12 (unit-1)`, `cooling call`; null: nothing names it. */
export function entryWords(of: EditedPart['name'], entry: Entry): string | null {
  if (of === 'point') {
    const { signal } = entry;
    return typeof signal === 'string' && isSignalName(signal) ? SIGNALS[signal].name : null;
  }
  const { id, name } = entry;
  if (typeof id !== 'string') return null;
  return `${of} ${typeof name === 'string' && name !== '' && name !== id ? `${name} (${id})` : id}`;
}
