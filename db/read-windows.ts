import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { int4Array, timeArray } from './values.ts';

/** Samples of many short stretches at one question: what was read around each of many starts. Times are claimed. */
export interface SampleWindow {
  readonly pointId: number;
  readonly from: Instant;
  readonly before: Instant;
}

export interface WindowRow {
  /** which window, from 0 */
  readonly place: number;
  readonly t: Instant;
  readonly value: number;
}

/** Half-cycle values of a window of seconds; more have no place in an answer. */
const MOST_ROWS = 3000;

const WINDOWS = statement(
  'samples-windows',
  `select (w.place - 1)::int as place, s.t, s.value
   from unnest($1::int4[], $2::timestamptz[], $3::timestamptz[]) with ordinality as w(point_id, since, before, place),
   lateral (
     (select t, value from samples where point_id = w.point_id and t < w.since and quality & 3 = 0
      order by t desc limit 1)
     union all
     (select t, value from samples where point_id = w.point_id and t >= w.since and t < w.before and quality & 3 = 0
      order by t limit ${MOST_ROWS})
   ) s order by place, s.t`,
);

/** Good samples alone: those within each window, and the last before it. */
export const readWindows = (queries: Queries, windows: readonly SampleWindow[]): Promise<WindowRow[]> =>
  queries.many<WindowRow>(WINDOWS, [
    int4Array(windows.map(({ pointId }) => pointId)),
    timeArray(windows.map(({ from }) => from)),
    timeArray(windows.map(({ before }) => before)),
  ]);
