import type { Instant } from '../shared/base/instant.ts';
import type { Alarm, AlarmChange, Task, Work } from '../shared/alarms/alarm.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** Alarms and tasks as pages read them. */
export interface KeptAlarm {
  readonly alarm: Alarm;
  readonly version: number;
  readonly changedAt: Instant;
  /** id of the alarm that explains it; null: none does, or it isn't open itself */
  readonly root: string | null;
}

const COLUMNS = `a.body as alarm, a.version, a.changed_at as "changedAt",
  (select r.id from alarms r where r.site = a.site and r.key = a.body #>> '{life,suppressed,key}' and r.state <> 'A') as root`;

export interface AlarmQuery {
  /** null: all */
  readonly sites: readonly string[] | null;
  /** null: those that aren't at rest */
  readonly states: readonly string[] | null;
  readonly from: Instant | null;
  readonly to: Instant | null;
  /** the last of the page before */
  readonly after: { readonly raised: Instant; readonly id: string } | null;
  readonly limit: number;
}

const LIST = statement(
  'alarms-list',
  `select ${COLUMNS} from alarms a
   where ($1::text[] is null or site = any($1))
     and (case when $2::text[] is null then state <> 'A' else state = any($2) end)
     and ($3::timestamptz is null or raised_at >= $3) and ($4::timestamptz is null or raised_at < $4)
     and ($5::timestamptz is null or (raised_at, id) < ($5, $6::text))
   order by raised_at desc, id desc limit $7`,
);

/** Newest first. */
export const readAlarms = (queries: Queries, asked: AlarmQuery): Promise<KeptAlarm[]> =>
  queries.many<KeptAlarm>(LIST, [
    asked.sites,
    asked.states,
    timeOrNull(asked.from),
    timeOrNull(asked.to),
    asked.after ? timeParameter(asked.after.raised) : null,
    asked.after?.id ?? null,
    asked.limit,
  ]);

const ONE = statement('alarms-one', `select ${COLUMNS} from alarms a where id = $1`);

export const readAlarm = (queries: Queries, id: string): Promise<KeptAlarm | null> =>
  queries.maybe<KeptAlarm>(ONE, [id]);

/** A line of the journal with its place in it. */
export type KeptChange = AlarmChange & { readonly id: number; readonly site: string };

const CHANGE_COLUMNS = `id, site, alarm_id as alarm, what, at, event_at as "eventAt", by, why, events, state, severity`;
const JOURNAL = statement(
  'alarms-journal',
  `select ${CHANGE_COLUMNS} from alarm_changes where alarm_id = $1 order by id desc limit $2`,
);

/** The newest lines of an alarm's journal, oldest first. */
export const readJournal = async (queries: Queries, alarm: string, limit: number): Promise<KeptChange[]> =>
  (await queries.many<KeptChange>(JOURNAL, [alarm, limit])).toReversed();

export interface TaskQuery {
  /** null: all */
  readonly sites: readonly string[] | null;
  /** false: closed ones as well */
  readonly open: boolean;
  readonly after: { readonly opened: Instant; readonly id: string } | null;
  readonly limit: number;
}

const TASKS = statement(
  'tasks-list',
  `select body as task from tasks
   where ($1::text[] is null or site = any($1)) and (not $2 or closed_at is null)
     and ($3::timestamptz is null or (opened_at, id) < ($3, $4::text))
   order by opened_at desc, id desc limit $5`,
);

export const readTasks = async (queries: Queries, asked: TaskQuery): Promise<Task[]> => {
  const rows = await queries.many<{ task: Task }>(TASKS, [
    asked.sites,
    asked.open,
    asked.after ? timeParameter(asked.after.opened) : null,
    asked.after?.id ?? null,
    asked.limit,
  ]);
  return rows.map(({ task }) => task);
};

const WORKS = statement(
  'works-now',
  `select id, site, units, by, from_at as "from", until_at as until, ended_at as "endedAt" from works
   where ($1::text[] is null or site = any($1)) and ended_at is null order by from_at, id limit 1000`,
);

export const readWorks = (
  queries: Queries,
  sites: readonly string[] | null,
): Promise<(Work & { site: string })[]> => queries.many(WORKS, [sites]);

const CHANGED = statement(
  'changes-alarms',
  `select ${COLUMNS} from alarms a where saved_in >= $1::xid8 order by saved_in limit $2`,
);

/** Saved by transactions that weren't over at a look (read-status.ts). */
export const readChangedAlarms = (queries: Queries, since: string, limit: number): Promise<KeptAlarm[]> =>
  queries.many<KeptAlarm>(CHANGED, [since, limit]);
