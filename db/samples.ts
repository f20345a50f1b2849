import { SECOND, type Instant } from '../shared/base/instant.ts';
import { SIGNALS } from '../shared/telemetry/signals.ts';
import { statement, type Queries } from './pool.ts';
import { COPY_SAMPLES, encodeSamples } from './sample-copy.ts';
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

const CONTACTS = Object.entries(SIGNALS)
  .flatMap(([name, { kind }]) => (kind === 'contact' ? [`'${name}'`] : []))
  .join();

/** What follows from rows of `changed` (point_id, t): their rollups are marked, their subjects have work, one item each. */
const FOLLOWED = `earliest as (
     select point_id, min(t) as t, count(*) as rows from changed group by point_id
   ), marked as (
     insert into rollup_marks (point_id, from_t, to_t)
     select point_id, from_t, from_t + interval '5 minutes'
     from (select distinct point_id, date_bin('5 minutes', t, '2000-01-01Z') as from_t from changed) m order by 1, 2
     on conflict (point_id, from_t) do nothing
   ), woken as (
     insert into work_items (subject_id, earliest, because, urgent)
     select ps.subject_id, min(e.t), jsonb_build_object('point', (array_agg(e.point_id order by e.t))[1]),
       bool_or(p.signal in (${CONTACTS}))
     from earliest e join point_subjects ps using (point_id) join points p on p.id = e.point_id group by ps.subject_id
   )
   select coalesce(sum(rows), 0)::int as changed from earliest`;

/** A row that is there already and wouldn't change isn't written, isn't returned and wakes nobody. */
const MERGE = statement(
  'samples-merge',
  `with changed as (
     insert into samples as s (point_id, t, value, quality)
     select * from unnest($1::int4[], $2::timestamptz[], $3::float8[], $4::int2[])
     on conflict (point_id, t) do update set value = ${LEAST}, quality = ${QUALITY}
     where s.value <> ${LEAST} or s.quality <> ${QUALITY}
     returning point_id, t
   ), ${FOLLOWED}`,
);

/** After a COPY, which answers nothing: the first row of each point and five minutes stands for all of them. */
const FOLLOW = statement(
  'samples-follow',
  `with changed as (select * from unnest($1::int4[], $2::timestamptz[]) as c (point_id, t)), ${FOLLOWED}`,
);

/** Below so many rows COPY's round trips cost more than it saves (`npm run bench -- write`). */
const COPY_FROM_ROWS = 1_000;
const UNIQUE_VIOLATION = '23505';

/**
 * Answers how many rows really changed; those make the work items of their subjects, one each, from the earliest on, and
 * mark their rollups. Within a transaction. A large batch is nearly always new throughout, so it is tried by COPY; where a
 * row of it is there already, the database takes the attempt back and the batch is merged.
 */
export async function writeSamples(
  queries: Queries,
  samples: SampleColumns,
  expectation: Expectation,
): Promise<number> {
  if (samples.length === 0) return 0;
  if (samples.length >= COPY_FROM_ROWS && expectation.isNew() && (await copySamples(queries, samples))) {
    expectation.wasNew();
    return samples.length;
  }
  return mergeSamples(queries, samples);
}

/** Whether a batch is expected to be new throughout. After one that wasn't so many are merged at once, each time twice as many. */
export class Expectation {
  #toMerge = 0;
  #next = 1;

  isNew(): boolean {
    if (this.#toMerge > 0) {
      this.#toMerge--;
      return false;
    }
    // unless it turns out to be new
    this.#toMerge = this.#next;
    this.#next = Math.min(MOST_MERGED, this.#next * 2);
    return true;
  }

  wasNew(): void {
    this.#toMerge = 0;
    this.#next = 1;
  }
}

const MOST_MERGED = 64;

async function mergeSamples(queries: Queries, samples: SampleColumns): Promise<number> {
  const { changed } = await queries.one<{ changed: number }>(MERGE, [
    int4Array(samples.pointId),
    timeArray(samples.t),
    float8Array(samples.value),
    int2Array(samples.quality),
  ]);
  return changed;
}

/** False: a row of it is there already, and none was written. */
async function copySamples(queries: Queries, samples: SampleColumns): Promise<boolean> {
  await queries.run(BEFORE_COPY);
  try {
    await queries.copyIn(COPY_SAMPLES, [encodeSamples(samples)]);
  } catch (error) {
    if ((error as { code?: unknown }).code !== UNIQUE_VIOLATION) throw error;
    await queries.run(TAKE_BACK);
    return false;
  }
  const { pointId, t } = firstOfFiveMinutes(samples);
  await queries.run(FOLLOW, [int4Array(pointId), timeArray(t)]);
  return true;
}

const BEFORE_COPY = statement('', 'savepoint before_copy');
const TAKE_BACK = statement('', 'rollback to savepoint before_copy');

/** As `date_bin` counts: both epochs lie on whole five minutes. */
const FIVE_MINUTES = 300 * SECOND;

function firstOfFiveMinutes({ length, pointId, t }: SampleColumns) {
  const first = { pointId: [] as number[], t: [] as Instant[] };
  let ends = -Infinity;
  for (let i = 0; i < length; i++) {
    if (i > 0 && pointId[i] === pointId[i - 1] && t[i]! < ends) continue;
    first.pointId.push(pointId[i]!);
    first.t.push(t[i]!);
    ends = (Math.floor(t[i]! / FIVE_MINUTES) + 1) * FIVE_MINUTES;
  }
  return first;
}
