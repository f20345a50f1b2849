import type { Instant } from '../shared/base/instant.ts';
import type { Escalation } from '../shared/people/escalate.ts';
import type { Severity } from '../shared/alarms/severity.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/**
 * Where each root's escalation stands. Alarms start and end it in their own transaction; everything between is decided by
 * whoever takes a due row (server/notify). A row is never claimed by two: claims skip locked rows.
 */
export interface EscalationRow extends Escalation {
  readonly alarm: string;
  readonly site: string;
  readonly startedAt: Instant;
  readonly endedWhy: string | null;
}

const COLUMNS = `alarm, site, severity, state, next_page as "nextPage", page_due_at as "pageDueAt", due_at as "dueAt", set_at as "setAt",
  started_at as "startedAt", owner, place, owned_since as "ownedSince", asked_at as "askedAt",
  needs_by as "needsBy", cleared, ended_why as "endedWhy"`;

/** somebody may be due to be told something */
export const NOTICES = 'holdoff_notices';
const ANNOUNCE = statement('announce-notices', `select pg_notify('${NOTICES}', '')`);

export const announceNotices = (queries: Queries): Promise<number> => queries.run(ANNOUNCE);

const START = statement(
  'escalations-start',
  `insert into escalations (alarm, site, severity, state, page_due_at, due_at, set_at, started_at)
   values ($1, $2, $3, 'paging', $4, $5, $4, $4)
   on conflict (alarm) do update set severity = excluded.severity, state = 'paging', next_page = 0,
     page_due_at = excluded.page_due_at, due_at = excluded.due_at, set_at = excluded.set_at, started_at = excluded.started_at, owner = null,
     place = null, owned_since = null, asked_at = null, needs_by = null, cleared = false, ended_why = null
   where escalations.state = 'over'`,
);

export interface RootAlarm {
  readonly alarm: string;
  readonly site: string;
  readonly severity: Severity;
}

/**
 * A root stands and nobody has answered. One that is under way goes on as it is. `decideAt`: when it is decided first, where
 * more is about to be known of it.
 */
export async function startEscalation(
  queries: Queries,
  root: RootAlarm,
  now: Instant,
  decideAt: Instant = now,
): Promise<void> {
  const { alarm, site, severity } = root;
  await queries.run(START, [alarm, site, severity, timeParameter(now), timeParameter(decideAt)]);
  await announceNotices(queries);
}

const CHANGE = statement(
  'escalations-change',
  `update escalations set severity = $2, cleared = $3, due_at = $4, set_at = $5
   where alarm = $1 and state <> 'over' and (severity <> $2 or cleared <> $3)`,
);

/** It is worse or better, or its condition has ended while somebody owns it: decided again, at once if nothing else is said. */
export async function changeEscalation(
  queries: Queries,
  { alarm, severity, cleared }: { alarm: string; severity: Severity; cleared: boolean },
  now: Instant,
  decideAt: Instant = now,
): Promise<void> {
  if (
    (await queries.run(CHANGE, [alarm, severity, cleared, timeParameter(decideAt), timeParameter(now)])) > 0
  )
    await announceNotices(queries);
}

const OWN = statement(
  'escalations-own',
  `update escalations set state = 'owned', owner = $2, place = $3, owned_since = $4, asked_at = null, due_at = $4,
     set_at = $4
   where alarm = $1 and state <> 'over'`,
);
const OVERTAKE = statement(
  'deliveries-overtake',
  `update deliveries set state = 'overtaken', ended_at = $2, answer = $3
   where state = 'waiting' and notice in (select id from notices where alarm = $1)`,
);

/**
 * Somebody has accepted, taken a step, or is on site: nobody else is paged from this transaction on, and what waits to be
 * sent is overtaken.
 */
export async function ownEscalation(
  queries: Queries,
  { alarm, owner, place }: { alarm: string; owner: string; place: 'accepted' | 'on-site' },
  now: Instant,
): Promise<void> {
  if ((await queries.run(OWN, [alarm, owner, place, timeParameter(now)])) === 0) return;
  await queries.run(OVERTAKE, [alarm, timeParameter(now), 'accepted before it was sent']);
  await announceNotices(queries);
}

const STOP = statement(
  'escalations-stop',
  `update escalations set state = 'over', ended_why = $2, cleared = $3, due_at = case when $3 then $4::timestamptz end, set_at = $4
   where alarm = $1 and state <> 'over'`,
);

/** It has cleared, is shelved, suppressed or out of service. Whoever was told of one that has cleared is told that too. */
export async function stopEscalation(
  queries: Queries,
  { alarm, why, cleared }: { alarm: string; why: string; cleared: boolean },
  now: Instant,
): Promise<void> {
  if ((await queries.run(STOP, [alarm, why, cleared, timeParameter(now)])) === 0) return;
  await queries.run(OVERTAKE, [alarm, timeParameter(now), `overtaken: ${why}`]);
  await announceNotices(queries);
}

const ONE = statement('escalations-one', `select ${COLUMNS} from escalations where alarm = $1`);
export const readEscalation = (queries: Queries, alarm: string): Promise<EscalationRow | null> =>
  queries.maybe(ONE, [alarm]);

const OPEN = statement(
  'escalations-open',
  `select ${COLUMNS} from escalations where ($1::text[] is null or site = any($1)) and state <> 'over' and alarm not like 'drill:%'
   order by started_at desc, alarm limit 500`,
);
/** Those of alarms that are under way, TEST notices left out; the newest first; `sites` null: all. */
export const readOpenEscalations = (
  queries: Queries,
  sites: readonly string[] | null,
): Promise<EscalationRow[]> => queries.many(OPEN, [sites]);

const CLAIM = statement(
  'escalations-claim',
  `select ${COLUMNS} from escalations where due_at <= $1 or set_at > $1
   order by due_at limit 1 for update skip locked`,
);
/** One that is due, or was set in what a clock that was set back calls the future; in a transaction that decides it. */
export const claimEscalation = (queries: Queries, now: Instant): Promise<EscalationRow | null> =>
  queries.maybe(CLAIM, [timeParameter(now)]);

const NEXT = statement(
  'notices-next',
  `select least(
     (select min(due_at) from escalations where due_at is not null),
     (select min(greatest(due_at, coalesce(leased_until, due_at))) from deliveries where state = 'waiting')
   ) as at`,
);
/** When something is due next; null: nothing waits. */
export const readNextDue = async (queries: Queries): Promise<Instant | null> =>
  (await queries.one<{ at: Instant | null }>(NEXT)).at;

const SAVE = statement(
  'escalations-save',
  `update escalations set state = $2, next_page = $3, due_at = $4, set_at = $5, asked_at = $6, needs_by = $7,
     owner = $8, place = $9, owned_since = $10, page_due_at = $11
   where alarm = $1`,
);
export const saveEscalation = (queries: Queries, row: EscalationRow): Promise<number> =>
  queries.run(SAVE, [
    row.alarm,
    row.state,
    row.nextPage,
    timeOrNull(row.dueAt),
    timeParameter(row.setAt),
    timeOrNull(row.askedAt),
    timeOrNull(row.needsBy),
    row.owner,
    row.place,
    timeOrNull(row.ownedSince),
    timeParameter(row.pageDueAt),
  ]);
