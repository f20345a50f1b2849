import { parsePointer, valueAt } from '../telemetry/json-pointer.ts';
import { same } from '../base/same.ts';
import { entriesAt, putAt, type Path } from './change.ts';
import { valueOf, type Field } from './field.ts';
import type { EntryList, Part, PartName } from './part.ts';
import { fieldsOf, PARTS, SITE_LISTS, type SiteListName } from './parts.ts';

/** One part of a document in the editor: the site itself, a unit, a unit's second point … */
export interface EditedPart {
  /** where it lies in the document */
  readonly path: Path;
  readonly name: PartName;
  readonly part: Part;
}

const sitePart: EditedPart = { path: [], name: 'site', part: PARTS.site };

const listsOf = ({ path, part }: EditedPart): readonly EntryList[] =>
  path.length === 0 ? [...part.lists, ...SITE_LISTS] : part.lists;

/** A part and all those inside it, in the editor's order. */
export function partsOf(document: unknown, from: EditedPart = sitePart): EditedPart[] {
  const inside = listsOf(from).flatMap(({ name, of }) =>
    entriesAt(document, [...from.path, name]).map((_, i) => ({
      path: [...from.path, name, String(i)],
      name: of,
      part: PARTS[of],
    })),
  );
  return [from, ...inside.flatMap((part) => partsOf(document, part))];
}

/** Every input of a document that holds something. */
export const inputsOf = (
  document: unknown,
): { readonly path: Path; readonly field: Field; value: unknown }[] =>
  partsOf(document).flatMap(({ path, part }) =>
    fieldsOf(part)
      .map((field) => ({ path: [...path, ...field.path], field }))
      .map((input) => ({ ...input, value: valueAt(document, input.path) }))
      .filter(({ value }) => value !== undefined),
  );

/** The document after a text was typed into one of its inputs; an entry that is its own value stays, empty. */
export function typedInto(document: unknown, path: Path, field: Field, text: string): unknown {
  const value = valueOf(field, text);
  return putAt(document, path, field.path.length === 0 ? (value ?? '') : value) ?? {};
}

/** What a new entry of a list begins as. */
export const emptyEntry = (of: PartName): unknown => (of === 'photo' ? '' : {});

/** Where in the editor a pointer leads: the page, the part on it, the input; null: the part as a whole. */
export interface EditorPlace {
  /** null: the site's own page */
  readonly list: SiteListName | null;
  readonly index: number | null;
  readonly part: EditedPart;
  readonly field: Field | null;
}

/** The place of a JSON Pointer. Whatever it points at, there is one: the nearest that is shown. */
export function placeOfPointer(pointer: string): EditorPlace {
  let part = sitePart;
  let rest = parsePointer(pointer) ?? [];
  const top = SITE_LISTS.find(({ name }) => name === rest[0])?.name ?? null;
  const index = top === null || !isIndex(rest[1]) ? null : Number(rest[1]);
  for (;;) {
    const [name, place] = rest;
    const list = listsOf(part).find((one) => one.name === name);
    if (!list || !isIndex(place)) break;
    part = { path: [...part.path, name!, place], name: list.of, part: PARTS[list.of] };
    rest = rest.slice(2);
  }
  return { list: top, index, part, field: fieldAt(part.part, rest) };
}

/** The field that holds it, or the first of the group that it is. */
function fieldAt(part: Part, rest: Path): Field | null {
  const fields = fieldsOf(part);
  const startsWith = (long: Path, short: Path) => same(long.slice(0, short.length), short);
  const holding = fields.find(({ path }) => startsWith(rest, path));
  if (holding || rest.length === 0) return holding ?? null;
  return fields.find(({ path }) => startsWith(path, rest)) ?? null;
}

const isIndex = (token: string | undefined): token is string => token !== undefined && /^\d+$/.test(token);

/** Fields of a part that the editor knows nothing of; the document's check refuses them, and they can be taken out. */
export function unknownFields(document: unknown, { path, part }: EditedPart): string[] {
  const value = valueAt(document, path);
  if (typeof value !== 'object' || value === null) return [];
  const known = new Set([
    ...fieldsOf(part).map((field) => field.path[0]),
    ...listsOf({ path, part, name: 'site' }).map(({ name }) => name),
  ]);
  return Object.keys(value).filter((key) => !known.has(key));
}
