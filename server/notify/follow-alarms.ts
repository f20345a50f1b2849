import {
  changeEscalation,
  ownEscalation,
  readEscalation,
  startEscalation,
  stopEscalation,
} from '../../db/escalations.ts';
import type { Queries } from '../../db/pool.ts';
import type { Alarm } from '../../shared/alarms/alarm.ts';
import { isActive, stateOf, type StateLetter } from '../../shared/alarms/life.ts';
import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';

/**
 * What a decision about a site's alarms means for who is told, in that decision's own transaction: a notice is a row before
 * it is a message, and acknowledging stops the pages with the commit that acknowledges (handbook 7). By the letters of
 * ISA-18.2: what nobody has acknowledged is paged, and what was latched is still a fault; what is hidden, explained by a
 * root, worked on, shelved or out of service, tells nobody.
 */
const MEANS: Record<StateLetter, 'page' | 'own' | 'clear' | 'hide'> = {
  A: 'clear',
  B: 'page',
  C: 'own',
  D: 'clear',
  E: 'page',
  F: 'own',
  G: 'hide',
  H: 'hide',
  I: 'hide',
};

/** A lockout is known a moment before what it means for its room is: one message then says both [ours, measured]. */
const SETTLES = 500 * MILLISECOND;

const HIDDEN_WORDS: Partial<Record<StateLetter, string>> = {
  G: 'shelved',
  H: 'explained by another, or worked on',
  I: 'out of service',
};

export async function followAlarms(queries: Queries, alarms: readonly Alarm[], now: Instant): Promise<void> {
  for (const alarm of alarms) await followOne(queries, alarm, now);
}

async function followOne(queries: Queries, alarm: Alarm, now: Instant): Promise<void> {
  const { id, site, life } = alarm;
  const letter = stateOf(life);
  switch (MEANS[letter]) {
    case 'page': {
      const { severity } = life;
      const decideAt = now + SETTLES;
      await startEscalation(queries, { alarm: id, site, severity }, now, decideAt);
      return changeEscalation(queries, { alarm: id, severity, cleared: false }, now, decideAt);
    }
    case 'own':
      await own(queries, alarm, now);
      return changeEscalation(
        queries,
        { alarm: id, severity: life.severity, cleared: !isActive(life) && !life.latched },
        now,
      );
    case 'clear':
      if (await isOwned(queries, id, 'on-site'))
        return changeEscalation(queries, { alarm: id, severity: life.severity, cleared: true }, now);
      return stopEscalation(queries, { alarm: id, why: 'cleared', cleared: true }, now);
    case 'hide':
      if (life.suppressed?.kind === 'work' && (await isOwned(queries, id))) return;
      return stopEscalation(queries, { alarm: id, why: HIDDEN_WORDS[letter] ?? letter, cleared: false }, now);
  }
}

/** Whoever works there goes on being asked whether they are all right until they say that they have left. */
async function isOwned(queries: Queries, id: string, place?: 'on-site'): Promise<boolean> {
  const row = await readEscalation(queries, id);
  return row?.state === 'owned' && (place === undefined || row.place === place);
}

/** Whoever has acknowledged it has it; that it was accepted once more by the same person changes nothing. */
async function own(queries: Queries, { id, owner, ownerId, life }: Alarm, now: Instant): Promise<void> {
  const by = ownerId ?? owner ?? life.acknowledged?.by ?? null;
  const row = await readEscalation(queries, id);
  if (by === null || row === null || row.state === 'over') return;
  if (row.state === 'owned' && row.owner === by) return;
  await ownEscalation(queries, { alarm: id, owner: by, place: 'accepted' }, now);
}
