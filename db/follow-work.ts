import type { Instant } from '../shared/base/instant.ts';
import type { Subject } from '../shared/inference/event.ts';
import type { RevisionWhy } from '../shared/inference/revision.ts';
import { statement, type Queries, type Session } from './pool.ts';
import { int4Array } from './values.ts';
import { positionParameter } from './follow-times.ts';

/**
 * Subjects whose turn it is: what is known of time, their work items, and the locks of those who take them. Whose turn it is
 * asks follow-due.ts.
 */
export interface DueSubject extends Subject {
  readonly id: number;
}

/** What is known of time, with each gateway's clock corrected. */
export interface Clocks {
  /** through when our own ingest listened and committed; null: never */
  readonly watched: Instant | null;
  /** the newest that counts of each */
  readonly lives: readonly {
    readonly site: string;
    readonly gateway: string;
    readonly t: Instant;
    /** a newer one was heard: it counts when every ingest has committed so far */
    readonly isHeld?: boolean;
  }[];
  /** several ingests share the messages, so a gateway's word counts for no more than its newest life here */
  readonly isShared?: boolean;
}

const SHARED = '(select count(*) > 1 from ingests)';
const LIVES = `select site, gateway, case when ${SHARED} then counted_t else t end as t,
  ${SHARED} and counted_t < t as "isHeld" from gateway_lives`;
const READ_LIVES = statement('follow-lives', LIVES);
const READ_WATCHED = statement(
  'follow-watched',
  `select t as watched, ${SHARED} as "isShared" from watched_through`,
);

/** As the gateways claim them: correct them before use. */
export async function readClaimedClocks(queries: Queries): Promise<Clocks> {
  const lives = await queries.many<Clocks['lives'][number]>(READ_LIVES);
  return { ...(await queries.one<Omit<Clocks, 'lives'>>(READ_WATCHED)), lives };
}

const READ_SITE_LIVES = statement('follow-site-lives', `${LIVES} where site = $1`);

export async function readSiteClocks(queries: Queries, site: string): Promise<Clocks> {
  const lives = await queries.many<Clocks['lives'][number]>(READ_SITE_LIVES, [site]);
  return { ...(await queries.one<Omit<Clocks, 'lives'>>(READ_WATCHED)), lives };
}

const ADD = statement('follow-add-work', 'insert into work_items (subject_id, earliest) values ($1, $2)');

export const addWork = async (queries: Queries, subjectId: number, earliest: Instant): Promise<void> => {
  await queries.run(ADD, [subjectId, positionParameter(earliest)]);
};

const ADD_TO_FOLLOWERS = statement(
  'follow-add-to-followers',
  `insert into work_items (subject_id, earliest, because)
   select subject_id, $2, $3::jsonb from subject_members where member_id = $1`,
);

/** For the panels and spaces that fold a unit's edges: what changed the unit's is why theirs may change. */
export const addWorkToFollowers = (
  queries: Queries,
  unitId: number,
  earliest: Instant,
  why: RevisionWhy,
): Promise<number> =>
  queries.run(ADD_TO_FOLLOWERS, [
    unitId,
    positionParameter(earliest),
    why.kind === 'in-order' ? null : JSON.stringify(why),
  ]);

/** Why an item was written: the row of `points` whose sample changed, or what the writer already knew. */
export type Because = { readonly point: number } | RevisionWhy;

export interface TakenWork {
  /** the earliest instant that the items name; null: there were none */
  readonly earliest: Instant | null;
  /** of the earliest item that says why, with when it was written */
  readonly because: Because | null;
  readonly learnedAt: Instant | null;
}

/** of several subjects, by id; with the greatest id among the items */
export interface WaitingWork {
  readonly of: ReadonlyMap<number, TakenWork>;
  readonly last: number;
}

const READ_WORK = statement(
  'follow-read-work',
  `select subject_id as id, min(earliest) as earliest, max(id) as last,
     (array_agg(because order by earliest, inserted_at) filter (where because is not null))[1] as because,
     (array_agg(inserted_at order by earliest, inserted_at) filter (where because is not null))[1] as "learnedAt"
   from work_items where subject_id = any($1::int4[]) group by subject_id`,
);

/** The items of these subjects; they stay until `dropWork`. */
export async function readWork(queries: Queries, subjectIds: readonly number[]): Promise<WaitingWork> {
  const rows = await queries.many<TakenWork & { id: number; last: number }>(READ_WORK, [
    int4Array(subjectIds),
  ]);
  return {
    of: new Map(rows.map((row) => [row.id, row])),
    last: rows.reduce((most, { last }) => Math.max(most, last), 0),
  };
}

const DROP_WORK = statement(
  'follow-drop-work',
  'delete from work_items where subject_id = any($1::int4[]) and id <= $2',
);

/** Takes items away that were read in the same transaction, and none that were written since. */
export const dropWork = (queries: Queries, subjectIds: readonly number[], last: number): Promise<number> =>
  queries.run(DROP_WORK, [int4Array(subjectIds), last]);

const LOCK = statement(
  'follow-lock',
  'select id from unnest($1::int4[]) as s (id) where pg_try_advisory_lock(7203101, id)',
);
const UNLOCK = statement(
  'follow-unlock',
  'select pg_advisory_unlock(7203101, id) from unnest($1::int4[]) as s (id)',
);

/**
 * Locks of the session, taken in a statement of their own, so that the transaction after it sees what the last one saved.
 * Answers whose were free; they are to be given back.
 */
export const lockSubjects = async (session: Session, subjectIds: readonly number[]): Promise<number[]> =>
  (await session.many<{ id: number }>(LOCK, [int4Array(subjectIds)])).map(({ id }) => id);

export const unlockSubjects = async (session: Session, subjectIds: readonly number[]): Promise<void> => {
  if (subjectIds.length > 0) await session.run(UNLOCK, [int4Array(subjectIds)]);
};

/** The instant through which every member that isn't unknown is known; one that was never folded holds it back. */
export function membersHorizon(subject: string): string {
  return `select coalesce(min(case when ms.subject_id is null then '-infinity'
      else coalesce(ms.known_through, 'infinity') end), 'infinity') as horizon
    from subject_members sm left join subject_states ms on ms.subject_id = sm.member_id
    where sm.subject_id = ${subject}`;
}

const HORIZON = statement('follow-members-horizon', `select horizon from (${membersHorizon('$1')}) m`);
const MEMBERS = statement(
  'follow-members',
  `select s.device, ms.subject_id is not null as folded, ms.known_through as "knownThrough"
   from subject_members sm join subjects s on s.id = sm.member_id
   left join subject_states ms on ms.subject_id = sm.member_id where sm.subject_id = $1`,
);

export interface MembersKnown {
  readonly horizon: Instant;
  readonly members: readonly {
    readonly device: string;
    readonly folded: boolean;
    readonly knownThrough: Instant | null;
  }[];
}

export async function readMembersKnown(queries: Queries, subjectId: number): Promise<MembersKnown> {
  const { horizon } = await queries.one<{ horizon: Instant }>(HORIZON, [subjectId]);
  return { horizon, members: await queries.many(MEMBERS, [subjectId]) };
}

const NOTIFY = statement('follow-notify', "select pg_notify('holdoff_inferred', '')");

/** Once at the end of a step: every server looks for what has changed. */
export const announceInferred = async (queries: Queries): Promise<void> => {
  await queries.run(NOTIFY);
};
