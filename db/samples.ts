import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { float8Array, int2Array, int4Array, timeArray } from './values.ts';

/** Samples as columns, sorted by (point, t) and each pair once, so that two writers can't wait for each other in a ring. */
export interface SampleColumns {
  readonly length: number;
  readonly pointId: ArrayLike<number>;
  readonly t: ArrayLike<Instant>;
  readonly value: ArrayLike<number>;
  readonly quality: ArrayLike<number>;
}

/** `mergeSamples` of shared/telemetry/sample.ts, in SQL; the two are held equal by a test. */
const DIFFER = '(s.value <> excluded.value or ((s.quality | excluded.quality) & 4) <> 0)';
const LEAST = 'least(s.value, excluded.value)';
const QUALITY = `(greatest(s.quality & 3, excluded.quality & 3, case when ${DIFFER} then 1 else 0 end)
  | case when ${DIFFER} then 4 else 0 end)::smallint`;

/** A row that is there already and wouldn't change isn't written, isn't returned and wakes nobody. */
const WRITE = statement(
  'samples-write',
  `with changed as (
     insert into samples as s (point_id, t, value, quality)
     select * from unnest($1::int4[], $2::timestamptz[], $3::float8[], $4::int2[])
     on conflict (point_id, t) do update set value = ${LEAST}, quality = ${QUALITY}
     where s.value <> ${LEAST} or s.quality <> ${QUALITY}
     returning point_id, t
   ), earliest as (
     select point_id, min(t) as t, count(*) as rows from changed group by point_id
   ), marked as (
     insert into rollup_marks (point_id, from_t, to_t)
     select point_id, from_t, from_t + interval '5 minutes'
     from (select distinct point_id, date_bin('5 minutes', t, '2000-01-01Z') as from_t from changed) m order by 1, 2
     on conflict (point_id, from_t) do nothing
   ), woken as (
     insert into work_items (subject_id, earliest, because)
     select ps.subject_id, min(e.t), jsonb_build_object('point', (array_agg(e.point_id order by e.t))[1])
     from earliest e join point_subjects ps using (point_id) group by ps.subject_id
   )
   select coalesce(sum(rows), 0)::int as changed from earliest`,
);

/** Answers how many rows really changed; those make the work items of their subjects, one each, from the earliest on, and mark their rollups. */
export async function writeSamples(queries: Queries, samples: SampleColumns): Promise<number> {
  if (samples.length === 0) return 0;
  const { changed } = await queries.one<{ changed: number }>(WRITE, [
    int4Array(samples.pointId),
    timeArray(samples.t),
    float8Array(samples.value),
    int2Array(samples.quality),
  ]);
  return changed;
}
