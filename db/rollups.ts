import { seconds, type Instant } from '../shared/base/instant.ts';
import { isSignalName, SIGNALS } from '../shared/telemetry/signals.ts';
import { holdConfiguration } from './configuration-lock.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * Samples added up by five minutes, so that a year of a point that is polled each second is drawn from 105,120 rows instead
 * of 31.5 million. A rollup is never trusted by itself: whoever writes a sample marks its five minutes in the same
 * statement (samples.ts), and what is marked is read from the samples (`readMarked`). So answers are the same whether the
 * rolling up is seconds behind or a year.
 *
 * Rolling up takes marks away first, alone among commits, and only then looks at the samples: a commit that comes in
 * between finds no mark and writes a new one. What was taken away counts as marked until its rollup is there.
 */
export const ROLLUP = seconds(300);

/** Bounds of one step: marks, and the time that they cover in all. */
const MARKS = 2000;
const COVERED = '3 days';

const TRY = statement('rollup-lock', 'select pg_try_advisory_xact_lock(7203, 9) as mine');
/** Marked stretches that ended before $1; the first is taken however long it is. */
const TAKE = statement(
  'rollup-take',
  `with next as (
     select point_id, from_t, sum(to_t - from_t) over (order by point_id, from_t) as covered,
       row_number() over (order by point_id, from_t) as place
     from (select * from rollup_marks where to_t <= $1 order by point_id, from_t limit ${MARKS}) m
   ), taken as (
     delete from rollup_marks m using next n
     where m.point_id = n.point_id and m.from_t = n.from_t and (n.place = 1 or n.covered <= interval '${COVERED}')
     returning m.point_id, m.from_t, m.to_t
   )
   insert into rollup_work as w (point_id, from_t, to_t) select point_id, from_t, to_t from taken
   on conflict (point_id, from_t) do update set to_t = greatest(w.to_t, excluded.to_t)`,
);
const FORGET = statement(
  'rollup-forget',
  `delete from sample_rollups r using rollup_work w
   where r.point_id = w.point_id and r.from_t >= w.from_t and r.from_t < w.to_t`,
);
const ADD_UP = statement(
  'rollup-add-up',
  `insert into sample_rollups as r (point_id, from_t, first_t, last_t, least, most, total, good, last_value)
   select w.point_id, b.from_t, b.first_t, b.last_t, b.least, b.most, b.total, b.good, l.value
   from rollup_work w join points p on p.id = w.point_id and p.signal = any($1::text[])
     cross join lateral (
       select date_bin('5 minutes', t, '2000-01-01Z') as from_t, min(t) as first_t, max(t) as last_t,
         min(value) as least, max(value) as most, sum(value) as total, count(*)::int as good
       from samples where point_id = w.point_id and t >= w.from_t and t < w.to_t and quality & 3 = 0 group by 1
     ) b join samples l on l.point_id = w.point_id and l.t = b.last_t
   on conflict (point_id, from_t) do update
     set first_t = excluded.first_t, last_t = excluded.last_t, least = excluded.least, most = excluded.most,
       total = excluded.total, good = excluded.good, last_value = excluded.last_value`,
);
const DONE = statement('rollup-done', 'delete from rollup_work');
const LEFT = statement(
  'rollup-left',
  'select exists (select 1 from rollup_work) or exists (select 1 from rollup_marks where to_t <= $1) as more',
);

/** Contacts are drawn as their steps, never added up. */
const ADDED_UP = Object.keys(SIGNALS).filter((name) => isSignalName(name) && SIGNALS[name].kind === 'analog');

/**
 * Rolls up what is marked and ended before `before`: one bounded step. Answers whether there is more. Safe beside any number
 * of others: one does it at a time, the others answer that nothing is left to them.
 */
export async function rollUp(database: Database, before: Instant): Promise<boolean> {
  const mine = await database.transaction({ name: 'rollup-take' }, async (queries) => {
    if (!(await isMine(queries))) return false;
    await holdConfiguration(queries);
    await queries.run(TAKE, [timeParameter(before)]);
    return true;
  });
  if (!mine) return false;
  return database.transaction({ name: 'rollup-add-up' }, async (queries) => {
    if (!(await isMine(queries))) return false;
    await queries.run(FORGET);
    await queries.run(ADD_UP, [ADDED_UP]);
    await queries.run(DONE);
    return (await queries.one<{ more: boolean }>(LEFT, [timeParameter(before)])).more;
  });
}

const isMine = async (queries: Queries): Promise<boolean> => (await queries.one<{ mine: boolean }>(TRY)).mine;

const MARKED = statement(
  'rollup-marked',
  `select from_t as from, to_t as before from (
     select from_t, to_t from rollup_marks where point_id = $1 and from_t < $3 and to_t > $2
     union all
     select from_t, to_t from rollup_work where point_id = $1 and from_t < $3 and to_t > $2
   ) m order by from_t limit 100000`,
);

interface TimeRange {
  readonly from: Instant;
  readonly before: Instant;
}

/** What of a stretch is to be read from the samples, and what from rollups. */
interface Parts {
  readonly exact: readonly TimeRange[];
  readonly rolled: readonly TimeRange[];
}

/** Whole five minutes that no mark touches are read from rollups. Must be read in one snapshot with what it tells of. */
export async function readParts(queries: Queries, pointId: number, stretch: TimeRange): Promise<Parts> {
  const bounds = [timeParameter(stretch.from), timeParameter(stretch.before)];
  const marked = await queries.many<TimeRange>(MARKED, [pointId, ...bounds]);
  return partsOf(stretch, marked);
}

/** `marked` by their beginnings. */
function partsOf(stretch: TimeRange, marked: readonly TimeRange[]): Parts {
  const first = Math.ceil(stretch.from / ROLLUP) * ROLLUP;
  const last = Math.floor(stretch.before / ROLLUP) * ROLLUP;
  if (last <= first) return { exact: [stretch], rolled: [] };
  const rolled: TimeRange[] = [];
  let at = first;
  for (const { from, before } of marked) {
    if (from > at) rolled.push({ from: at, before: Math.min(from, last) });
    at = Math.max(at, before);
    if (at >= last) break;
  }
  if (at < last) rolled.push({ from: at, before: last });
  return { exact: between(stretch, rolled), rolled };
}

/** What of the stretch lies outside of those spans. */
function between(stretch: TimeRange, spans: readonly TimeRange[]): TimeRange[] {
  const gaps: TimeRange[] = [];
  let at = stretch.from;
  for (const { from, before } of spans) {
    if (from > at) gaps.push({ from: at, before: from });
    at = before;
  }
  if (at < stretch.before) gaps.push({ from: at, before: stretch.before });
  return gaps;
}
