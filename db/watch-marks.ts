import type { Instant } from '../shared/base/instant.ts';
import type { WatchCoverage } from '../shared/inference/watch.ts';
import { noteCommitted } from './ingests.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** "Subscribed, and everything received from `from` to `to` is committed." */
export interface WatchMark {
  readonly ingest: string;
  readonly from: Instant;
  readonly to: Instant;
  /** of one that shares a group's messages: the number drawn before the mark's message was sent (ingests.ts) */
  readonly heardIn?: number;
  /** what was sent since the last mark may have been missed: it wasn't watched */
  readonly isGap?: boolean;
  /** where the holder of this lease isn't online, nobody listens to what is listened to under it: a gap */
  readonly lease?: string | null;
}

/** A mark that begins where one of the same ingest ends lengthens it; the same mark again changes nothing. */
const EXTEND = statement(
  'watch-mark-extend',
  `update watch_marks set to_t = greatest(to_t, $3)
   where ingest = $1 and (ingest, from_t) = (
     select ingest, from_t from watch_marks where ingest = $1 and from_t <= $2 order by from_t desc limit 1)
   and to_t >= $2`,
);

const INSERT = statement(
  'watch-mark-insert',
  `insert into watch_marks (ingest, from_t, to_t) values ($1, $2, $3)
   on conflict (ingest, from_t) do update set to_t = greatest(watch_marks.to_t, excluded.to_t)`,
);

/** No sample tells a site that nobody listened before a new mark. */
const WAKE_SITES = statement(
  'watch-mark-wake-sites',
  "insert into work_items (subject_id, earliest) select id, 'infinity' from subjects where kind = 'site'",
);

/** A gap begins where this ingest's marks end. */
const GAP = statement(
  'watch-mark-gap',
  `insert into watch_gaps (ingest, from_t, to_t)
   select $1, from_t, $2 from (select max(to_t) as from_t from watch_marks where ingest = $1) m where from_t < $2
   on conflict (ingest, from_t) do update set to_t = greatest(watch_gaps.to_t, excluded.to_t)`,
);
const IS_OFFLINE = statement(
  'watch-mark-lease',
  'select not (is_online and until_t > now()) as offline from leases where name = $1',
);

export async function writeWatchMark(queries: Queries, mark: WatchMark): Promise<void> {
  if (mark.isGap || (mark.lease && (await isOffline(queries, mark.lease)))) {
    if ((await queries.run(GAP, [mark.ingest, timeParameter(mark.to)])) > 0)
      await queries.run(WAKE_SITES, []);
    return;
  }
  await extend(queries, mark);
  const { ingest, to, heardIn } = mark;
  if (heardIn !== undefined) await noteCommitted(queries, { ingest, to, heardIn });
}

/** Where the lease has no row yet, nothing was ever listened to under it that could be missed. */
const isOffline = async (queries: Queries, lease: string): Promise<boolean> =>
  (await queries.maybe<{ offline: boolean }>(IS_OFFLINE, [lease]))?.offline ?? false;

async function extend(queries: Queries, mark: WatchMark): Promise<void> {
  const values = [mark.ingest, timeParameter(mark.from), timeParameter(mark.to)];
  if ((await queries.run(EXTEND, values)) > 0) return;
  await queries.run(INSERT, values);
  await queries.run(WAKE_SITES, []);
}

const READ = statement(
  'watch-marks-read',
  `select lower(span) as "from", upper(span) as "to" from (
     select unnest(range_agg(tstzrange(from_t, least(to_t, w.t), '[]')) - coalesce(
       (select range_agg(tstzrange(from_t, to_t, '()')) from watch_gaps where to_t > $1), '{}')) as span
     from watch_marks, watched_through w where to_t > $1 and from_t <= w.t
   ) as spans order by 1`,
);

/**
 * Watched time that ends after `from`: the union over every ingest, without the gaps, as far as all that share a group have
 * committed. What a member of a group received while it was away waits in its session, so others watch for it.
 */
export async function readWatch(queries: Queries, from: Instant): Promise<WatchCoverage> {
  const spans = await queries.many<{ from: Instant; to: Instant }>(READ, [timeParameter(from)]);
  return { spans };
}

const LAST = statement('watch-marks-last', 'select t as last from watched_through');

/** Through when anything was watched by any ingest; null: no ingest has ever run. */
export const readLastMark = async (queries: Queries): Promise<Instant | null> =>
  (await queries.one<{ last: Instant | null }>(LAST)).last;
