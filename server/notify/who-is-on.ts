import type { Queries } from '../../db/pool.ts';
import { readOverrides, readRoster } from '../../db/rosters.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { Target } from '../../shared/people/escalation.ts';
import { personAt } from '../../shared/people/on-call.ts';
import { parseRoster } from '../../shared/wire/on-call-document.ts';

/** Who stands behind each target at an instant: nobody where a roster is gone or has a gap. */
export async function readWhoIsOn(
  queries: Queries,
  targets: readonly Target[],
  now: Instant,
): Promise<(target: Target) => readonly string[]> {
  const on = new Map<string, string | null>();
  for (const { kind, id } of targets)
    if (kind === 'roster' && !on.has(id)) on.set(id, await personOf(queries, id, now));
  return ({ kind, id }) => {
    const person = kind === 'person' ? id : (on.get(id) ?? null);
    return person === null ? [] : [person];
  };
}

async function personOf(queries: Queries, id: string, now: Instant): Promise<string | null> {
  const stored = await readRoster(queries, id);
  const parsed = stored === null ? null : parseRoster(id, stored.name, stored.document);
  if (parsed === null || !parsed.ok) return null;
  return personAt(parsed.value, await readOverrides(queries, id, now, now + 1), now);
}
