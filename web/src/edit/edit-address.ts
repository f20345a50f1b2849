import { valueAt } from '../../../shared/telemetry/json-pointer.ts';
import { entriesAt } from '../../../shared/edit/change.ts';
import { nameOf } from '../../../shared/edit/differences.ts';
import { placeOfPointer } from '../../../shared/edit/inputs.ts';
import { SITE_LISTS, type SiteListName } from '../../../shared/edit/parts.ts';
import { changedQuery, siteHref } from '../address/place.ts';

/** Addresses within the editor: a part by its id where it has one of its own, else by its place, as `~3`. */
export const editHref = (site: string, at: readonly string[] = [], field: string | null = null): string =>
  `${[siteHref(site), 'edit', ...at.map(encodeURIComponent)].join('/')}${changedQuery('', { field })}`;

export function wordOfEntry(document: unknown, list: SiteListName, index: number): string {
  const { of } = SITE_LISTS.find(({ name }) => name === list)!;
  const names = entriesAt(document, [list]).map((entry) => nameOf(of, entry));
  const name = names[index] ?? null;
  const isOwn = name !== null && /^[a-z0-9-]+$/.test(name) && names.indexOf(name) === names.lastIndexOf(name);
  return isOwn ? name : `~${index + 1}`;
}

/** null: there is no such part. */
export function indexOfWord(document: unknown, list: SiteListName, word: string): number | null {
  const { of } = SITE_LISTS.find(({ name }) => name === list)!;
  const entries = entriesAt(document, [list]);
  const index = word.startsWith('~')
    ? Number(word.slice(1)) - 1
    : entries.findIndex((entry) => nameOf(of, entry) === word);
  return entries[index] === undefined ? null : index;
}

/** Where in the editor a fault is mended. */
export function faultHref(site: string, document: unknown, pointer: string): string {
  const { list, index, part, field } = placeOfPointer(pointer);
  const to = pointerOfInput(part.path, field?.path ?? []);
  if (list === null) return editHref(site, ['site'], to);
  if (list === 'points') return editHref(site, ['points'], to);
  if (index === null || valueAt(document, [list, String(index)]) === undefined) return editHref(site);
  return editHref(site, [list, wordOfEntry(document, list, index)], to);
}

const pointerOfInput = (part: readonly string[], field: readonly string[]): string =>
  [...part, ...field].map((token) => `/${token}`).join('');
