import { entriesAt } from '../../../shared/edit/change.ts';
import { DEFAULT_GATEWAY } from '../../../shared/wire/check-references.ts';

/** The ids that a field may name, as they stand in the edit. */
export function offeredIds(
  document: unknown,
  list: 'gateways' | 'spaces' | 'panels' | 'units',
): { readonly id: string; readonly says: string }[] {
  const entries = entriesAt(document, [list]) as readonly ({ id?: unknown; name?: unknown } | null)[];
  const offered = entries.flatMap((entry) =>
    typeof entry?.id === 'string' && entry.id !== ''
      ? [{ id: entry.id, says: typeof entry.name === 'string' ? `${entry.name} (${entry.id})` : entry.id }]
      : [],
  );
  const unique = offered.filter(({ id }, i) => offered.findIndex((one) => one.id === id) === i);
  return list === 'gateways' && unique.length === 0
    ? [{ id: DEFAULT_GATEWAY, says: DEFAULT_GATEWAY }]
    : unique;
}
