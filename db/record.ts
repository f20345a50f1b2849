import type { Instant } from '../shared/base/instant.ts';
import type { UnitEdge } from '../shared/inference/edge.ts';
import type { RecordPage, Source } from '../shared/inference/fold.ts';
import type { SiteHistory } from '../shared/telemetry/site.ts';
import { clockShifts, type ClockShift } from '../shared/telemetry/clock-shifts.ts';
import { statement, type Queries } from './pool.ts';
import { columnsFrom, emptyColumns, orderWithinInstants, type Columns } from './record-columns.ts';
import { mergeStretch, type EdgeRow } from './record-merge.ts';
import { readIntervalRows } from './intervals.ts';
import { joinTwins } from './record-twins.ts';
import { int4Array, timeParameter } from './values.ts';

/**
 * Reading the record for a fold: the rows of a subject's sources in time order, as columns, from an instant on.
 *
 *   const ids = await readDeviceIds(queries, site);                       // db/points.ts
 *   const sources = recordSources(history, context.sources, ids);
 *   const { page, more } = await readRecord(queries, sources, stored.through, 100_000);
 *   const watch = await readWatch(queries, from);                         // db/watch-marks.ts
 *
 * `page.source[i]` is the place in `sources`, which is the place in `context.sources` (shared/inference/sources.ts).
 * Times are corrected by each gateway's dated clock offsets; `after` is a corrected time too. A page ends between two
 * instants: rows of one instant are never parted.
 */
export interface RecordSource {
  /** rows of `samples`; null where the point has no row yet */
  readonly pointId: number | null;
  /** rows of `unit_edges`; null for points and lives */
  readonly subjectId: number | null;
  /** stretches of claimed time with what is added to it; empty: nothing anywhere */
  readonly shifts: readonly ClockShift[];
  /** its folds read intervals as well */
  readonly hasIntervals: boolean;
}

export interface RecordStretch {
  readonly page: RecordPage;
  /** further rows follow */
  readonly more: boolean;
}

/** The rows of a site by their names: `<device>/<signal>` → points.id, `<kind>/<device>` → subjects.id. */
export interface DeviceIds {
  readonly points: ReadonlyMap<string, number>;
  readonly subjects: ReadonlyMap<string, number>;
}

export function recordSources(
  history: SiteHistory,
  sources: readonly Source[],
  ids: DeviceIds,
): RecordSource[] {
  return sources.map((source) => ({
    pointId: source.kind === 'edges' ? null : (ids.points.get(source.key) ?? null),
    subjectId: source.kind === 'edges' ? (ids.subjects.get(`unit/${source.device}`) ?? null) : null,
    shifts: source.kind === 'edges' ? [] : clockShifts(history, source.key),
    hasIntervals: source.kind === 'point' && (source.signal?.startsWith('line-voltage') ?? false),
  }));
}

/** Rows with t > after, at most `limit` of them and never a part of an instant. */
export async function readRecord(
  queries: Queries,
  sources: readonly RecordSource[],
  after: Instant,
  limit: number,
): Promise<RecordStretch> {
  const samples = await readSampleColumns(queries, sources, after, limit + 1);
  const edges = await readEdges(queries, sources, after, limit + 1);
  const intervals = await readIntervalRows(queries, sources, after, limit + 1);
  const stretch = mergeStretch(samples, [...edges, ...intervals].sort(byTimeAndSource), limit);
  if (stretch.more && stretch.page.length === 0) return readRecord(queries, sources, after, limit * 2);
  return sources.some(({ shifts }) => shifts.length > 0)
    ? { ...stretch, page: joinTwins(stretch.page) }
    : stretch;
}

async function readSampleColumns(
  queries: Queries,
  sources: readonly RecordSource[],
  after: Instant,
  rows: number,
): Promise<Columns> {
  const branches = sources.flatMap((source, place) => branchesOf(source, place, after, rows));
  if (branches.length === 0) return emptyColumns(0);
  // one branch has its order and its limit already, and may not be given them twice
  const all =
    branches.length === 1 ? branches[0]! : `${branches.join(' union all ')} order by t limit ${rows}`;
  const text = `copy (${all}) to stdout (format binary)`;
  const columns = await columnsFrom(queries.copyOut(text), rows);
  orderWithinInstants(columns);
  return columns;
}

/**
 * One ordered, bounded scan of the primary key for each source, and for each stretch of its clock; PostgreSQL merges
 * them as they come. Only numbers and instants made here are written into the text, for COPY takes no parameters.
 */
function branchesOf(source: RecordSource, place: number, after: Instant, rows: number): string[] {
  if (source.pointId === null) return [];
  const point = Math.trunc(source.pointId);
  const branch = (t: string, range: string) =>
    `(select ${place}::int2 as source, ${t} as t, value, quality from samples
      where point_id = ${point} and ${range} order by samples.t limit ${rows})`;
  if (source.shifts.length === 0) return [branch('t', `t > ${literal(after)}`)];
  return source.shifts
    .filter((shift) => shift.before + shift.by > after)
    .map((shift) =>
      branch(
        `t + interval '${Math.trunc(shift.by)} microseconds'`,
        `t > ${literal(after - shift.by)} and t >= ${literal(shift.from)} and t < ${literal(shift.before)}`,
      ),
    );
}

const literal = (instant: Instant): string => `'${timeParameter(instant)}'::timestamptz`;

const EDGES = statement(
  'record-edges',
  `select e.subject_id as subject, e.t, e.edge from unit_edges e
   where e.subject_id = any($1::int4[]) and e.t > $2 order by e.t, e.subject_id, e.place limit $3`,
);

async function readEdges(
  queries: Queries,
  sources: readonly RecordSource[],
  after: Instant,
  rows: number,
): Promise<EdgeRow[]> {
  const places = new Map<number, number>();
  for (const [place, { subjectId }] of sources.entries())
    if (subjectId !== null) places.set(subjectId, place);
  if (places.size === 0) return [];
  const found = await queries.many<{ subject: number; t: Instant; edge: UnitEdge }>(EDGES, [
    int4Array([...places.keys()]),
    timeParameter(after),
    rows,
  ]);
  return found
    .map(({ subject, t, edge }) => ({ source: places.get(subject)!, t, edge }))
    .sort(byTimeAndSource);
}

/** Stable: edges of one unit and instant keep their place. */
const byTimeAndSource = (a: EdgeRow, b: EdgeRow): number => a.t - b.t || a.source - b.source;
