import { freeId, entriesAt } from '../../../shared/edit/change.ts';
import { entryWords } from '../../../shared/edit/differences.ts';
import { textOf, valueWords, type Entry } from '../../../shared/edit/field.ts';
import { emptyEntry } from '../../../shared/edit/inputs.ts';
import type { EntryList, PartName } from '../../../shared/edit/part.ts';
import { fieldsOf, PARTS, type SiteListName } from '../../../shared/edit/parts.ts';
import { valueAt } from '../../../shared/telemetry/json-pointer.ts';

/** An entry in one line: what it is called, and what else tells it apart. */
export function lineOf(
  { of, one }: Pick<EntryList, 'of' | 'one'>,
  entry: unknown,
  index: number,
): { readonly name: string; readonly says: string } {
  if (typeof entry !== 'object' || entry === null)
    return { name: `${one} ${index + 1}`, says: typeof entry === 'string' ? entry : '' };
  const known = entry as Entry;
  if (of === 'point') return { name: entryWords(of, known) ?? `${one} ${index + 1}`, says: pointSays(known) };
  const { id, name } = known;
  const called = [name, id].find((word) => typeof word === 'string' && word !== '');
  const texts = fieldsOf(PARTS[of])
    .slice(0, 3)
    .map((field) => textOf(field, valueAt(known, field.path)))
    .filter((text) => text !== '' && text !== called);
  return { name: typeof called === 'string' ? called : `${one} ${index + 1}`, says: texts.join(', ') };
}

const POINT_SAYS = ['contact', 'mode', 'seconds'];

function pointSays(point: Entry): string {
  const fields = fieldsOf(PARTS.point).filter(({ path }) => POINT_SAYS.includes(path.at(-1) ?? ''));
  return fields
    .map((field) => ({ field, value: valueAt(point, field.path) }))
    .filter(({ value }) => value !== undefined && value !== 'polled')
    .map(({ field, value }) =>
      field.path[1] === 'seconds' ? `every ${String(value)} s` : valueWords(field, value),
    )
    .join(', ');
}

const FRESH: Partial<Record<PartName, unknown>> = {
  use: { days: 'mon-fri', from: '07:00', to: '16:00' },
  'clock-offset': { from: 'always', seconds: 0 },
};

export const freshEntry = (of: PartName): unknown => FRESH[of] ?? emptyEntry(of);

/** A new gateway, panel, space or unit, with an id that nobody has. */
export function freshDevice(document: unknown, list: Exclude<SiteListName, 'points'>): Entry {
  const word = { gateways: 'gateway', panels: 'panel', spaces: 'space', units: 'unit' }[list];
  const id = freeId(document, word);
  if (list !== 'units') return { id };
  const [panel] = entriesAt(document, ['panels']) as readonly Entry[];
  return { id, panel: panel?.['id'] ?? '' };
}
