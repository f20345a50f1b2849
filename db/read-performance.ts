import type { Instant } from '../shared/base/instant.ts';
import type { AlarmSubject } from '../shared/alarms/condition.ts';
import type { Done } from '../shared/alarms/performance/replay.ts';
import type { JournalLine } from '../shared/alarms/performance/announced.ts';
import type { Stretch } from '../shared/alarms/performance/rates.ts';
import type { AlarmRuleId } from '../shared/alarms/rules.ts';
import type { EventDraft } from '../shared/inference/event.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** What alarms asked of people in a stretch of time: their journal, who was told, and what a replay of it needs. */
export interface PerformanceQuery extends Stretch {
  /** null: all */
  readonly sites: readonly string[] | null;
}

export type KeptLine = JournalLine & {
  readonly site: string;
  readonly rule: AlarmRuleId;
  readonly subject: AlarmSubject;
};

export const LINES_BOUND = 100_000;
const LINES = statement(
  'performance-lines',
  `with named as (
     select distinct alarm_id as id from alarm_changes
       where ($1::text[] is null or site = any($1)) and at >= $2 and at < $3 and alarm_id is not null
     union select id from alarms where ($1::text[] is null or site = any($1)) and state <> 'A' and raised_at < $3
   )
   select c.alarm_id as alarm, a.key, a.site, a.rule, a.body -> 'subject' as subject, c.what, c.at, c.by, c.why, c.state, c.severity
   from alarm_changes c join named n on n.id = c.alarm_id join alarms a on a.id = c.alarm_id
   where c.at < $3 and c.what not in ('noted', 'amended', 'replaced')
   order by c.id desc limit ${LINES_BOUND}`,
);

/** All lines of the alarms that had any in the stretch, or are open; the newest 100,000, oldest first. */
export const readLines = async (
  queries: Queries,
  { sites, from, to }: PerformanceQuery,
): Promise<KeptLine[]> =>
  (await queries.many<KeptLine>(LINES, [sites, timeParameter(from), timeParameter(to)])).toReversed();

export interface AskedPerson {
  readonly person: string;
  readonly name: string;
  readonly alarm: string;
  readonly at: Instant;
}

const ASKED = statement(
  'performance-asked',
  `select n.person, p.name, n.alarm, d.made_at as at
   from deliveries d join notices n on n.id = d.notice join people p on p.id = n.person join escalations e on e.alarm = n.alarm
   where d.reason in ('page', 'again') and n.alarm not like 'drill:%' and d.made_at >= $2 and d.made_at < $3 and ($1::text[] is null or e.site = any($1))
   group by n.person, p.name, n.alarm, d.made_at
   order by d.made_at desc limit ${LINES_BOUND}`,
);

/** Messages that asked somebody, one a person and time whatever it went by; oldest first. */
export const readAsked = async (
  queries: Queries,
  { sites, from, to }: PerformanceQuery,
): Promise<AskedPerson[]> =>
  (await queries.many<AskedPerson>(ASKED, [sites, timeParameter(from), timeParameter(to)])).toReversed();

const EVENTS = statement(
  'performance-events',
  `select body from events
   where site = $1 and withdrawn_at is null and kind = any($2) and start_latest < $4
     and (end_latest is null or end_latest >= $3) and (kind <> 'compressor-run' or cause = 'undervoltage')
   order by start_latest desc, id limit $5`,
);

/** The newest so many events of these kinds that touch the stretch. */
export const readReplayEvents = async (
  queries: Queries,
  site: string,
  { from, to }: Stretch,
  { kinds, limit }: { readonly kinds: readonly string[]; readonly limit: number },
): Promise<EventDraft[]> => {
  const values = [site, kinds, timeParameter(from), timeParameter(to), limit];
  return (await queries.many<{ body: EventDraft }>(EVENTS, values)).map(({ body }) => body).toReversed();
};

const COMMANDS = statement(
  'performance-commands',
  `select command, asked_at as at from alarm_commands
   where site = $1 and outcome = 'done' and asked_at >= $2 and asked_at < $3 order by asked_at, id limit 10000`,
);

/** What people asked and got in the stretch, oldest first. */
export const readDone = (queries: Queries, site: string, { from, to }: Stretch): Promise<Done[]> =>
  queries.many<Done>(COMMANDS, [site, timeParameter(from), timeParameter(to)]);
