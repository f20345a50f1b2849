import type { Instant } from '../shared/base/instant.ts';
import { membersHorizon, type Clocks, type DueSubject } from './follow-work.ts';
import { positionParameter } from './follow-times.ts';
import { statement, type Queries } from './pool.ts';
import { timeArray } from './values.ts';

/**
 * Which subjects wait to be folded. A subject waits while it has work items, an unfinished re-inference, or a deadline that
 * has come. All of it is read from one snapshot, so that what waits never seems to be nothing between the step that takes
 * items away and the one that they lead to.
 */

/** Where much waits, a contact that has changed goes before everything that has waited no more than so much longer. */
const URGENT_AHEAD = "interval '5 seconds'";

/** $1–$3: lives as columns, $4: watched through. Who has waited longest is first in order of `turn`. */
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
    union all
    select st.subject_id from subject_states st
      join subjects s on s.id = st.subject_id join lives l on l.site = s.site and l.gateway = st.wake_gateway
    where st.wake_life_at <= l.t and st.stopped is null and l.t > st.folded_life
    union all
    select st.subject_id from subject_states st, lateral (${membersHorizon('st.subject_id')}) m
    where st.wake_members_at is not null and st.wake_members_at <= m.horizon and st.stopped is null
      and m.horizon > st.folded_members
    union all
    select st.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id
    where f.wake_members_at is not null and f.wake_members_at > st.known_through and f.stopped is null and st.stopped is null
      and exists (${newerLives('st')} and l.t > f.wake_members_at)
    union all
    select st.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id
      join subjects s on s.id = st.subject_id left join nows n on n.site = s.site
    where f.wake_members_at is not null and f.wake_members_at > st.known_through and f.stopped is null and st.stopped is null and not st.held
      and coalesce(n.now, $4) >= f.wake_members_at and coalesce(n.now, $4) > st.folded_now
    union all
    select f.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id join subjects s on s.id = st.subject_id
    where f.folded_known is not null and f.stopped is null
      and extract(epoch from st.known_through) * 1000000 > coalesce((f.folded_known->>s.device)::bigint, -9e18)
    union all
    select st.subject_id from subject_states f
      join subject_members sm on sm.subject_id = f.subject_id
      join subject_states st on st.subject_id = sm.member_id
    where f.folded_known is not null and f.stopped is null and st.stopped is null and exists (${newerLives('st')})
    union all
    select st.subject_id from subject_states st
    where (st.through > st.folded_least_life or st.folded_least_life = '-infinity') and st.stopped is null
      and exists (${newerLives('st')})
  ), due as (
    select subject_id, 0 as later, min(case when urgent then inserted_at - ${URGENT_AHEAD} else inserted_at end) as turn
    from work_items group by subject_id
    union all select subject_id, 0, saved_at from deadlines join subject_states using (subject_id)
    union all select subject_id, 1, started_at from refolds
  )`;

/** What folds the edges of units lets them go first for a second, but waits no longer than that behind younger work. */
const HEAD_START = "case when s.kind in ('unit', 'gateway') then interval '0' else interval '1 second' end";

const READ_DUE = statement(
  'follow-due',
  `${DUE}
   select s.id, s.site, s.kind, s.device from subjects s join (
     select subject_id, min(later) as later, min(turn) as turn from due group by subject_id
   ) d on d.subject_id = s.id
   order by d.later, d.turn + ${HEAD_START}, s.id
   limit $5`,
);

/** Lives of a subject's gateways that its last fold didn't know. */
function newerLives(state: string): string {
  return `select from point_subjects ps join points p on p.id = ps.point_id and p.signal = 'life'
      join lives l on l.site = p.site and l.gateway = p.device
    where ps.subject_id = ${state}.subject_id
      and extract(epoch from l.t) * 1000000 > coalesce((${state}.folded_lives->>l.gateway)::bigint, -9e18)`;
}

/** Live work before re-inference; the longest waiting first, with the allowances above. */
export const readDue = (queries: Queries, clocks: Clocks, limit: number): Promise<DueSubject[]> =>
  queries.many(READ_DUE, [...clockParameters(clocks), limit]);

const READ_URGENT = statement(
  'follow-urgent',
  `select s.id, s.site, s.kind, s.device from subjects s join (
     select subject_id, min(id) as first from work_items where urgent group by subject_id
   ) w on w.subject_id = s.id order by w.first limit $1`,
);

/** Those for whom a contact has changed, the longest waiting first: asked quickly, however many others wait. */
export const readUrgent = (queries: Queries, limit: number): Promise<DueSubject[]> =>
  queries.many(READ_URGENT, [limit]);

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
