import type { Instant } from '../shared/base/instant.ts';
import type { Subject } from '../shared/inference/event.ts';
import type { RevisionWhy } from '../shared/inference/revision.ts';
import { statement, type Queries, type Session } from './pool.ts';
import { timeArray } from './values.ts';
import { positionParameter } from './follow-times.ts';

/**
 * Which subjects wait to be folded, and who folds them. A subject waits while it has work items, an unfinished
 * re-inference, or a deadline that has come. All of it is read from one snapshot, so that what waits never seems to be
 * nothing between the step that takes items away and the one that they lead to.
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

/** $1–$3: lives as columns, $4: watched through */
const DUE = `
  with lives as (
    select * from unnest($1::text[], $2::text[], $3::timestamptz[]) as l(site, gateway, t)
  ), nows as (
    select site, greatest(max(t), $4::timestamptz) as now from lives group by site
  ), deadlines as (
    select st.subject_id from subject_states st
      join subjects s on s.id = st.subject_id left join nows n on n.site = s.site
    where st.wake_at <= greatest(coalesce((select max(now) from nows), $4), $4) and st.stopped is null
      and (st.wake_at <= coalesce(n.now, $4) and st.wake_at > st.folded_now
        or st.wake_at <= $4 and st.wake_at > st.folded_watch)
    union
    select st.subject_id from subject_states st
      join subjects s on s.id = st.subject_id join lives l on l.site = s.site and l.gateway = st.wake_gateway
    where st.wake_life_at <= l.t and st.stopped is null and l.t > st.folded_life
    union
    select st.subject_id from subject_states st, lateral (${membersHorizon('st.subject_id')}) m
    where st.wake_members_at <= m.horizon and st.stopped is null and m.horizon > st.folded_members
    union
    select st.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id
    where f.wake_members_at > st.known_through and f.stopped is null and st.stopped is null
      and exists (${newerLives('st')} and l.t > f.wake_members_at)
    union
    select st.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id
      join subjects s on s.id = st.subject_id left join nows n on n.site = s.site
    where f.wake_members_at > st.known_through and f.stopped is null and st.stopped is null and not st.held
      and coalesce(n.now, $4) >= f.wake_members_at and coalesce(n.now, $4) > st.folded_now
    union
    select f.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id join subjects s on s.id = st.subject_id
    where f.folded_known is not null and f.stopped is null
      and extract(epoch from st.known_through) * 1000000 > coalesce((f.folded_known->>s.device)::bigint, -9e18)
    union
    select st.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id
    where f.folded_known is not null and f.stopped is null and st.stopped is null and exists (${newerLives('st')})
    union
    select st.subject_id from subject_states st
    where st.through > st.folded_least_life and st.stopped is null and exists (${newerLives('st')})
  ), due as (
    select subject_id, min(inserted_at) as since, 0 as later from work_items group by subject_id
    union all select subject_id, null, 0 from deadlines
    union all select subject_id, started_at, 1 from refolds
  )`;

/** The instant through which every member that isn't unknown is known; one that was never folded holds it back. */
function membersHorizon(subject: string): string {
  return `select coalesce(min(case when ms.subject_id is null then '-infinity'
      else coalesce(ms.known_through, 'infinity') end), 'infinity') as horizon
    from subject_members sm left join subject_states ms on ms.subject_id = sm.member_id
    where sm.subject_id = ${subject}`;
}

const READ_DUE = statement(
  'follow-due',
  `${DUE}
   select s.id, s.site, s.kind, s.device from subjects s join (
     select subject_id, min(later) as later, min(since) as since from due group by subject_id
   ) d on d.subject_id = s.id
   order by d.later, case s.kind when 'unit' then 0 when 'gateway' then 1 else 2 end, d.since nulls first
   limit $5`,
);

/** Lives of a subject's gateways that its last fold didn't know. */
function newerLives(state: string): string {
  return `select from point_subjects ps join points p on p.id = ps.point_id and p.signal = 'life'
      join lives l on l.site = p.site and l.gateway = p.device
    where ps.subject_id = ${state}.subject_id
      and extract(epoch from l.t) * 1000000 > coalesce((${state}.folded_lives->>l.gateway)::bigint, -9e18)`;
}

/** Live work before re-inference, units before what folds their edges, the longest waiting first. */
export const readDue = (queries: Queries, clocks: Clocks, limit: number): Promise<DueSubject[]> =>
  queries.many(READ_DUE, [...clockParameters(clocks), limit]);

export interface Backlog {
  readonly pending: number;
  /** when the oldest item was written */
  readonly oldest: Instant | null;
}

const READ_BACKLOG = statement(
  'follow-backlog',
  `${DUE}
   select (select count(*) from work_items w join subjects s on s.id = w.subject_id where $5::text is null or s.site = $5)
     + (select count(distinct d.subject_id) from due d join subjects s on s.id = d.subject_id
        where ($5::text is null or s.site = $5)
          and not exists (select 1 from work_items w where w.subject_id = d.subject_id)) as pending,
     (select min(inserted_at) from work_items) as oldest`,
);

/** What waits, of one site or (null) of all. */
export const readBacklog = (queries: Queries, clocks: Clocks, site: string | null): Promise<Backlog> =>
  queries.one(READ_BACKLOG, [...clockParameters(clocks), site]);

const READ_THROUGH = statement(
  'follow-through',
  `${DUE}
   select min(coalesce(st.known_through, case when st.subject_id is null then '-infinity' else 'infinity' end::timestamptz))
     as through
   from due d join subjects s on s.id = d.subject_id left join subject_states st on st.subject_id = d.subject_id
   where $5::text is null or s.site = $5`,
);

/** The least that a waiting subject is known through; -Infinity: one of them was never folded; null: none waits. */
export const readWaitingThrough = async (
  queries: Queries,
  clocks: Clocks,
  site: string | null,
): Promise<Instant | null> =>
  (await queries.one<{ through: Instant | null }>(READ_THROUGH, [...clockParameters(clocks), site])).through;

const READ_BACKLOGS = statement(
  'follow-backlogs',
  `${DUE} select s.site, count(distinct d.subject_id) as pending from due d join subjects s on s.id = d.subject_id
   group by s.site`,
);

/** How many subjects of each site wait; sites where none does are left out. */
export async function readBacklogs(queries: Queries, clocks: Clocks): Promise<ReadonlyMap<string, number>> {
  const rows = await queries.many<{ site: string; pending: number }>(READ_BACKLOGS, clockParameters(clocks));
  return new Map(rows.map(({ site, pending }) => [site, pending]));
}

const clockParameters = ({ lives, watched }: Clocks): unknown[] => [
  lives.map(({ site }) => site),
  lives.map(({ gateway }) => gateway),
  timeArray(lives.map(({ t }) => t)),
  positionParameter(watched ?? -Infinity),
];

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

const TAKE = statement(
  'follow-take-work',
  `with taken as (delete from work_items where subject_id = $1 returning earliest, because, inserted_at)
   select (select min(earliest) from taken) as earliest, f.because, f.inserted_at as "learnedAt"
   from (select) one left join lateral (
     select because, inserted_at from taken where because is not null order by earliest, inserted_at limit 1) f on true`,
);

/** Takes a subject's items away. */
export const takeWork = (queries: Queries, subjectId: number): Promise<TakenWork> =>
  queries.one<TakenWork>(TAKE, [subjectId]);

const LOCK = statement('follow-lock', 'select pg_try_advisory_lock(7203101, $1) as mine');
const UNLOCK = statement('follow-unlock', 'select pg_advisory_unlock(7203101, $1)');

/** A lock of the session, taken in a statement of its own, so that the transaction after it sees what the last one saved. */
export const lockSubject = async (session: Session, subjectId: number): Promise<boolean> =>
  (await session.one<{ mine: boolean }>(LOCK, [subjectId])).mine;

export const unlockSubject = async (session: Session, subjectId: number): Promise<void> => {
  await session.run(UNLOCK, [subjectId]);
};

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
