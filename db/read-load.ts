import type { Subject } from '../shared/inference/event.ts';
import type { Instant } from '../shared/base/instant.ts';
import type { ChannelKind } from './channels.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * What waits in the database: every queue with how much and since when. Counting stops at a bound, so that asking costs the
 * same however long a queue has grown.
 */
const COUNTED_AT_MOST = 100_000;

interface Waiting {
  readonly count: number;
  /** when the oldest came to wait; null: nothing does */
  readonly oldest: Instant | null;
}

export interface StoreLoad {
  readonly work: readonly (Waiting & { readonly kind: Subject['kind'] })[];
  readonly deliveries: readonly (Waiting & { readonly channel: ChannelKind })[];
  readonly escalations: Waiting;
  readonly alarmWork: Waiting;
  readonly refolds: Waiting;
  readonly rollupMarks: Waiting;
  readonly stopped: number;
  /** the newest watch mark's end */
  readonly watched: Instant | null;
}

const WORK = statement(
  'load-work',
  `select s.kind, count(*)::int as count, min(w.inserted_at) as oldest
   from (select subject_id, inserted_at from work_items order by id limit ${COUNTED_AT_MOST}) w
     join subjects s on s.id = w.subject_id group by s.kind`,
);
const DELIVERIES = statement(
  'load-deliveries',
  `select c.kind as channel, count(*)::int as count, min(d.due_at) as oldest
   from (select channel, due_at from deliveries where state = 'waiting' and due_at <= $1 order by due_at limit ${COUNTED_AT_MOST}) d
     join channels c on c.id = d.channel group by c.kind`,
);

const counted = (from: string, at: string) =>
  `select count(*)::int as count, min(at) as oldest from (select ${at} as at from ${from} limit ${COUNTED_AT_MOST}) q`;
const ESCALATIONS = statement('load-escalations', counted('escalations where due_at <= $1', 'due_at'));
const ALARM_WORK = statement('load-alarm-work', counted('alarm_work', 'inserted_at'));
const REFOLDS = statement('load-refolds', counted('refolds', 'started_at'));
const ROLLUP_MARKS = statement('load-rollup-marks', counted('rollup_marks', 'to_t'));
const REST = statement(
  'load-rest',
  `select (select count(*)::int from subject_states where stopped is not null) as stopped,
     (select t from watched_through) as watched`,
);

/** To be asked in one snapshot. */
export async function readStoreLoad(queries: Queries, now: Instant): Promise<StoreLoad> {
  const at = [timeParameter(now)];
  const rest = await queries.one<Pick<StoreLoad, 'stopped' | 'watched'>>(REST);
  return {
    work: await queries.many(WORK),
    deliveries: await queries.many(DELIVERIES, at),
    escalations: await queries.one(ESCALATIONS, at),
    alarmWork: await queries.one(ALARM_WORK),
    refolds: await queries.one(REFOLDS),
    rollupMarks: await queries.one(ROLLUP_MARKS),
    ...rest,
  };
}
