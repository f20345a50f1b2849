import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * How often somebody has tried in vain. An attempt is counted before it is looked at, so that a hundred at once don't all
 * find an untouched count; one that was right is taken out again.
 */
const COUNT = statement(
  'attempts-count',
  `insert into failed_attempts as f (key, count, since) select unnest($1::bytea[]), 1, $2
   on conflict (key) do update set
     count = case when f.since <= $3 then 1 else least(f.count + 1, 1000000) end,
     since = case when f.since <= $3 then excluded.since else f.since end
   returning key, count, since`,
);

export interface Attempts {
  readonly key: Buffer;
  readonly count: number;
  readonly since: Instant;
}

/** Each key counted once more; counts from before `since` are forgotten. Keys must differ. */
export const countAttempts = (
  queries: Queries,
  keys: readonly Buffer[],
  { now, since }: { readonly now: Instant; readonly since: Instant },
): Promise<Attempts[]> =>
  queries.many<Attempts>(COUNT, [
    [...keys].sort((a, b) => a.compare(b)), // in one order, so that two can't wait for each other
    timeParameter(now),
    timeParameter(since),
  ]);

const FORGIVE = statement(
  'attempts-forgive',
  'update failed_attempts set count = count - 1 where key = any($1::bytea[]) and count > 0',
);
export const forgiveAttempts = (queries: Queries, keys: readonly Buffer[]): Promise<number> =>
  queries.run(FORGIVE, [keys]);

const SWEEP = statement('attempts-sweep', 'delete from failed_attempts where since <= $1 or count = 0');
export const sweepAttempts = (queries: Queries, since: Instant): Promise<number> =>
  queries.run(SWEEP, [timeParameter(since)]);
