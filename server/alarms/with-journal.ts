import { readAlarms, readJournal, type KeptAlarm } from '../../db/read-alarms.ts';
import type { Queries } from '../../db/pool.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import type { AlarmWithJournal } from '../../shared/wire/alarm-answer.ts';
import { wireAlarm, wireLine } from '../../shared/wire/alarm-wire.ts';

/** An alarm with its journal and with what it explains now. */
const JOURNAL_LINES = 500;

export async function readWithJournal(
  queries: Queries,
  kept: KeptAlarm,
  site: Site | null,
): Promise<AlarmWithJournal> {
  const { id, site: siteId } = kept.alarm;
  const journal = await readJournal(queries, id, JOURNAL_LINES);
  const others = await readAlarms(queries, hiddenOf(siteId));
  return {
    ...wireAlarm(kept, site),
    journal: journal.map(wireLine),
    explains: others.filter(({ root }) => root === id).map((one) => wireAlarm(one, site)),
  };
}

const hiddenOf = (site: string) =>
  ({ sites: [site], states: ['H'], from: null, to: null, after: null, limit: 2000 }) as const;
