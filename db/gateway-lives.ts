import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { int4Array, timeArray } from './values.ts';

/**
 * Signs of life: rows of the point `<gateway>/life`, and beside them the newest of each gateway. A life that is the newest
 * wakes no fold by itself (it would wake every unit each second): the server wakes those that wait for it. One that comes
 * late, behind the newest, may close a silence that was concluded, so it makes work items like any late sample.
 */
export interface LifeColumns {
  readonly length: number;
  /** of points `<gateway>/life`, sorted by (point, t), each pair once */
  readonly pointId: readonly number[];
  readonly t: readonly Instant[];
}

/** Locks the rows, in one order for every writer, so that "the newest" stays true to the end of the transaction. */
const NEWEST = statement(
  'gateway-lives-lock',
  `select p.id as "pointId", l.t from points p join gateway_lives l on l.site = p.site and l.gateway = p.device
   where p.id = any($1::int4[]) order by l.site, l.gateway for update of l`,
);

const WRITE = statement(
  'lives-write',
  `with given as (
     select * from unnest($1::int4[], $2::timestamptz[]) as g(point_id, t)
   ), newest as (
     select * from unnest($3::int4[], $4::timestamptz[]) as n(point_id, t)
   ), written as (
     insert into samples (point_id, t, value, quality) select point_id, t, 1, 0 from given
     on conflict (point_id, t) do nothing returning point_id, t
   ), woken as (
     insert into work_items (subject_id, earliest, because)
     select ps.subject_id, min(w.t), jsonb_build_object('point', (array_agg(w.point_id order by w.t))[1]) from written w join newest n using (point_id) join point_subjects ps using (point_id)
     where w.t < n.t group by ps.subject_id
   ), raised as (
     insert into gateway_lives as l (site, gateway, t)
     select p.site, p.device, max(g.t) from given g join points p on p.id = g.point_id
     group by p.site, p.device order by p.site, p.device
     on conflict (site, gateway) do update set t = excluded.t where l.t < excluded.t
   )
   select count(*)::int as written from written`,
);

/** Answers how many were new. */
export async function writeLives(queries: Queries, lives: LifeColumns): Promise<number> {
  if (lives.length === 0) return 0;
  const newest = await queries.many<{ pointId: number; t: Instant }>(NEWEST, [int4Array(lives.pointId)]);
  const { written } = await queries.one<{ written: number }>(WRITE, [
    int4Array(lives.pointId),
    timeArray(lives.t),
    int4Array(newest.map((row) => row.pointId)),
    timeArray(newest.map((row) => row.t)),
  ]);
  return written;
}

const READ = statement(
  'gateway-lives-newest',
  `select p.id as "pointId", l.t from gateway_lives l
   join points p on p.site = l.site and p.device = l.gateway and p.signal = 'life'`,
);

/** The newest life of every gateway, by the id of its point `life`. */
export async function readLives(queries: Queries): Promise<ReadonlyMap<number, Instant>> {
  const rows = await queries.many<{ pointId: number; t: Instant }>(READ);
  return new Map(rows.map(({ pointId, t }) => [pointId, t]));
}
