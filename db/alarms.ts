import type { Instant } from '../shared/base/instant.ts';
import type { Alarm, AlarmChange, Task, Work } from '../shared/alarms/alarm.ts';
import type { Decision, SiteAlarms } from '../shared/alarms/given.ts';
import type { Lag } from '../shared/alarms/catch-up.ts';
import { stateOf } from '../shared/alarms/life.ts';
import type { Tuning } from '../shared/alarms/tuning.ts';
import type { EventDraft } from '../shared/inference/event.ts';
import { statement, type Queries, type Session } from './pool.ts';
import { timeArray, timeOrNull, timeParameter } from './values.ts';

/**
 * A site's alarms as its decision reads and writes them. One decision a site at a time: an advisory lock of the session,
 * taken before the transaction so that it sees what the last one saved.
 */
const LOCK = statement('alarms-lock', 'select pg_try_advisory_lock(7203102, hashtext($1)) as mine');
const UNLOCK = statement('alarms-unlock', 'select pg_advisory_unlock(7203102, hashtext($1))');

export const lockAlarms = async (session: Session, site: string): Promise<boolean> =>
  (await session.one<{ mine: boolean }>(LOCK, [site])).mine;

export const unlockAlarms = async (session: Session, site: string): Promise<void> => {
  await session.run(UNLOCK, [site]);
};

/** Time that is known to have passed at a site, as its gateways and our own ingest claim it. */
const claimedThrough = (site: string): string =>
  `greatest((select t from watched_through), (select max(t) from gateway_lives l where l.site = ${site}), '-infinity')`;

const DUE = statement(
  'alarms-due',
  `select site from (
     select site, min(id) as first from alarm_work group by site
     union all select site, 0 from alarm_sites where wake_at <= $1
     union all select a.site, 0 from alarm_sites a, lateral (select ${claimedThrough('a.site')} as t) c
       where a.wake_through <= c.t and a.decided_through < c.t
     union all select site, 0 from alarm_commands where outcome is null
   ) due group by site order by min(first) limit $2`,
);

/** Sites that wait for a decision: something changed, somebody asked, or a deadline has come. */
export const readDueAlarms = async (queries: Queries, now: Instant, limit: number): Promise<string[]> =>
  (await queries.many<{ site: string }>(DUE, [timeParameter(now), limit])).map(({ site }) => site);

export interface AlarmWork {
  readonly eventId: string | null;
  readonly what: 'added' | 'amended' | 'withdrawn' | 'asked';
}

const ADD_WORK = statement(
  'alarms-add-work',
  `insert into alarm_work (site, event_id, what)
   select $1::text, * from unnest($2::text[], $3::text[])`,
);

/** In the transaction that saves events. */
export async function addAlarmWork(
  queries: Queries,
  site: string,
  work: readonly AlarmWork[],
): Promise<void> {
  if (work.length === 0) return;
  await queries.run(ADD_WORK, [site, work.map(({ eventId }) => eventId), work.map(({ what }) => what)]);
}

const TAKE_WORK = statement(
  'alarms-take-work',
  `delete from alarm_work where id in (select id from alarm_work where site = $1 order by id limit $2)
   returning event_id as "eventId", what`,
);

export const takeAlarmWork = (queries: Queries, site: string, limit: number): Promise<AlarmWork[]> =>
  queries.many<AlarmWork>(TAKE_WORK, [site, limit]);

export interface StoredAlarms {
  readonly state: SiteAlarms;
  readonly tuning: Tuning;
}

const SITE = statement('alarms-site', 'select lags, tuning from alarm_sites where site = $1');
const OPEN = statement(
  'alarms-open',
  "select body from alarms where site = $1 and state <> 'A' order by id limit 10000",
);
const OPEN_TASKS = statement(
  'alarms-open-tasks',
  'select body from tasks where site = $1 and closed_at is null order by id limit 10000',
);
const WORKS = statement(
  'alarms-works',
  `select id, units, by, from_at as "from", until_at as until, ended_at as "endedAt" from works
   where site = $1 and (ended_at is null or ended_at > now() - interval '31 days') order by from_at, id limit 1000`,
);

export async function readSiteAlarms(queries: Queries, site: string): Promise<StoredAlarms> {
  const found = await queries.maybe<{ lags: Record<string, Lag>; tuning: Tuning }>(SITE, [site]);
  const alarms = await queries.many<{ body: Alarm }>(OPEN, [site]);
  const tasks = await queries.many<{ body: Task }>(OPEN_TASKS, [site]);
  const works = await queries.many<Work>(WORKS, [site]);
  return {
    state: {
      alarms: alarms.map(({ body }) => body),
      tasks: tasks.map(({ body }) => body),
      works,
      lags: found?.lags ?? {},
    },
    tuning: found?.tuning ?? [],
  };
}

const EVENTS_BOUND = 5_000;
const EVENTS = statement(
  'alarms-events',
  `select body from (
     (select id, body from events where site = $1 and withdrawn_at is null and end_latest is null
        and kind = any($2::text[]) order by start_latest desc limit ${EVENTS_BOUND})
     union
     (select e.id, e.body from events e join unnest($3::text[], $4::timestamptz[]) back(kind, since) on back.kind = e.kind
        where e.site = $1 and e.withdrawn_at is null and e.end_latest >= back.since
        order by e.start_latest desc limit ${EVENTS_BOUND})
     union
     (select id, body from events where id = any($5::text[]) and withdrawn_at is null)
   ) e order by id`,
);

export interface AlarmEvents {
  /** that stand */
  readonly kinds: readonly string[];
  /** and that ended at or after an instant, by kind */
  readonly back: readonly (readonly [kind: string, since: Instant])[];
  /** and these */
  readonly ids: readonly string[];
}

/** Bounded: the newest 5,000 that stand and the newest 5,000 that ended. */
export const readAlarmEvents = async (
  queries: Queries,
  site: string,
  { kinds, back, ids }: AlarmEvents,
): Promise<EventDraft[]> => {
  const rows = await queries.many<{ body: EventDraft }>(EVENTS, [
    site,
    kinds,
    back.map(([kind]) => kind),
    timeArray(back.map(([, since]) => since)),
    ids,
  ]);
  return rows.map(({ body }) => body);
};

const GONE = statement(
  'alarms-gone',
  `select id, replaced_by as "replacedBy" from events where id = any($1::text[]) and withdrawn_at is not null`,
);

export const readGone = (
  queries: Queries,
  ids: readonly string[],
): Promise<{ id: string; replacedBy: string | null }[]> => queries.many(GONE, [ids]);

const PENDING = statement(
  'alarms-pending',
  `select exists (select from work_items w join subjects s on s.id = w.subject_id where s.site = $1)
     or exists (select from refolds r join subjects s on s.id = r.subject_id where s.site = $1) as pending`,
);

/** Does the site's inference have anything left to fold? */
export const readIsPending = async (queries: Queries, site: string): Promise<boolean> =>
  (await queries.one<{ pending: boolean }>(PENDING, [site])).pending;

const PUT_ALARMS = statement(
  'alarms-put',
  `insert into alarms as a (id, site, key, rule, severity, state, unit, space, panel, raised_at, owner, body, version)
   select *, 1 from unnest($1::text[], $2::text[], $3::text[], $4::text[], $5::text[], $6::text[], $7::text[], $8::text[],
     $9::text[], $10::timestamptz[], $11::text[], $12::jsonb[])
   on conflict (id) do update set severity = excluded.severity, state = excluded.state, owner = excluded.owner,
     panel = excluded.panel, space = excluded.space, body = excluded.body, version = a.version + 1, changed_at = now(),
     saved_in = pg_current_xact_id()`,
);

async function putAlarms(queries: Queries, alarms: readonly Alarm[]): Promise<void> {
  if (alarms.length === 0) return;
  await queries.run(PUT_ALARMS, [
    alarms.map(({ id }) => id),
    alarms.map(({ site }) => site),
    alarms.map(({ key }) => key),
    alarms.map(({ rule }) => rule),
    alarms.map(({ life }) => life.severity),
    alarms.map(({ life }) => stateOf(life)),
    alarms.map(({ subject }) => subject.unit),
    alarms.map(({ subject }) => subject.space),
    alarms.map(({ subject }) => subject.panel),
    timeArray(alarms.map(({ raisedAt }) => raisedAt)),
    alarms.map(({ owner }) => owner),
    alarms.map((alarm) => JSON.stringify(alarm)),
  ]);
}

const ADD_CHANGE = statement(
  'alarms-add-change',
  `insert into alarm_changes (site, alarm_id, what, at, event_at, by, why, events, state, severity)
   values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
);

async function addChange(queries: Queries, site: string, change: AlarmChange): Promise<void> {
  await queries.run(ADD_CHANGE, [
    site,
    change.alarm,
    change.what,
    timeParameter(change.at),
    timeOrNull(change.eventAt),
    change.by,
    change.why,
    change.events,
    change.state,
    change.severity,
  ]);
}

const PUT_TASK = statement(
  'alarms-put-task',
  `insert into tasks as t (id, site, key, rule, unit, body, opened_at, closed_at)
   values ($1, $2, $3, $4, $5, $6::jsonb, $7, $8)
   on conflict (id) do update set body = excluded.body, closed_at = excluded.closed_at, saved_in = pg_current_xact_id()`,
);

async function putTask(queries: Queries, task: Task): Promise<void> {
  await queries.run(PUT_TASK, [
    task.id,
    task.site,
    task.key,
    task.rule,
    task.subject.unit,
    JSON.stringify(task),
    timeParameter(task.openedAt),
    timeOrNull(task.closedAt),
  ]);
}

const PUT_WORK = statement(
  'alarms-put-work',
  `insert into works (id, site, units, by, from_at, until_at, ended_at) values ($1, $2, $3, $4, $5, $6, $7)
   on conflict (id) do update set ended_at = excluded.ended_at`,
);

async function putWork(queries: Queries, site: string, work: Work): Promise<void> {
  await queries.run(PUT_WORK, [
    work.id,
    site,
    work.units,
    work.by,
    timeParameter(work.from),
    timeParameter(work.until),
    timeOrNull(work.endedAt),
  ]);
}

const SAVE_SITE = statement(
  'alarms-save-site',
  `insert into alarm_sites (site, wake_at, wake_through, decided_through, lags)
   values ($1, $2, $3, ${claimedThrough('$1')}, $4::jsonb)
   on conflict (site) do update set wake_at = excluded.wake_at, wake_through = excluded.wake_through,
     decided_through = excluded.decided_through, lags = excluded.lags, decided_at = now()`,
);

/** Everything that a decision has changed. */
export async function saveAlarms(
  queries: Queries,
  site: string,
  before: SiteAlarms,
  decision: Decision,
): Promise<void> {
  const { state, wake } = decision;
  await putAlarms(queries, decision.alarms);
  for (const change of decision.changes) await addChange(queries, site, change);
  for (const task of decision.tasks) await putTask(queries, task);
  const known = new Map(before.works.map((work) => [work.id, work.endedAt]));
  for (const work of state.works)
    if (known.get(work.id) !== work.endedAt || !known.has(work.id)) await putWork(queries, site, work);
  await queries.run(SAVE_SITE, [
    site,
    timeOrNull(wake.at),
    timeOrNull(wake.through),
    JSON.stringify(state.lags),
  ]);
}
