import type { Instant } from '../shared/base/instant.ts';
import type { MarkKind } from '../shared/proof/session.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** Proof sessions, the marks that people made in them, when each thing was first known, and the records that are kept. */
export interface ProofSessionRow {
  readonly id: string;
  readonly site: string;
  readonly from: Instant;
  /** null: it is open */
  readonly endedAt: Instant | null;
  readonly person: string;
  readonly by: string;
  /** the escalation of its TEST notice; null: none was sent */
  readonly drill: string | null;
  readonly drillAt: Instant | null;
  readonly drillAnsweredAt: Instant | null;
  readonly drillAnsweredBy: string | null;
  readonly record: unknown;
  readonly judgedAt: Instant | null;
}

const COLUMNS = `id, site, from_at as "from", ended_at as "endedAt", person, by, drill, drill_at as "drillAt",
  drill_answered_at as "drillAnsweredAt", drill_answered_by as "drillAnsweredBy", record, judged_at as "judgedAt"`;

const BEGIN = statement(
  'proofs-begin',
  `insert into proof_sessions (id, site, from_at, person, by) values ($1, $2, $3, $4, $5)
   on conflict do nothing`,
);
/** False: one is open at this site already, or this one is there. */
export const beginProof = async (
  queries: Queries,
  { id, site, from, person, by }: Pick<ProofSessionRow, 'id' | 'site' | 'from' | 'person' | 'by'>,
): Promise<boolean> => (await queries.run(BEGIN, [id, site, timeParameter(from), person, by])) > 0;

const END = statement(
  'proofs-end',
  'update proof_sessions set ended_at = $2 where id = $1 and ended_at is null',
);
/** False: it has ended already. */
export const endProof = async (queries: Queries, id: string, at: Instant): Promise<boolean> =>
  (await queries.run(END, [id, timeParameter(at)])) > 0;

const OF_SITE = statement(
  'proofs-of-site',
  `select ${COLUMNS} from proof_sessions where site = $1 order by from_at desc, id limit $2`,
);
/** The newest first. */
export const readProofs = (queries: Queries, site: string, limit: number): Promise<ProofSessionRow[]> =>
  queries.many(OF_SITE, [site, limit]);

const ONE = statement('proofs-one', `select ${COLUMNS} from proof_sessions where site = $1 and id = $2`);
export const readProof = (queries: Queries, site: string, id: string): Promise<ProofSessionRow | null> =>
  queries.maybe(ONE, [site, id]);

const WATCHED = statement(
  'proofs-watched',
  `select ${COLUMNS} from proof_sessions where ended_at is null or ended_at > $1 order by from_at, id limit 200`,
);
/** Those that are open, and those that ended after an instant. */
export const readWatchedProofs = (queries: Queries, endedAfter: Instant): Promise<ProofSessionRow[]> =>
  queries.many(WATCHED, [timeParameter(endedAfter)]);

const KEEP = statement(
  'proofs-keep',
  'update proof_sessions set record = $2::jsonb, judged_at = $3 where id = $1',
);
export const keepProofRecord = (
  queries: Queries,
  id: string,
  record: unknown,
  at: Instant,
): Promise<number> => queries.run(KEEP, [id, JSON.stringify(record), timeParameter(at)]);

export interface ProofMarkRow {
  readonly id: string;
  readonly session: string;
  readonly kind: MarkKind;
  readonly on: string;
  readonly person: string;
  readonly by: string;
  /** the server's clock, when it arrived */
  readonly at: Instant;
  /** when it was pressed, where it waited to be sent */
  readonly saidAt: Instant | null;
  readonly clockAheadMs: number | null;
  readonly note: string;
}

const ADD_MARK = statement(
  'proofs-add-mark',
  `insert into proof_marks (id, session, kind, subject, person, by, at, said_at, clock_ahead_ms, note)
   values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) on conflict (id) do nothing`,
);
/** False: it is there already. */
export const addProofMark = async (queries: Queries, row: ProofMarkRow): Promise<boolean> =>
  (await queries.run(ADD_MARK, [
    row.id,
    row.session,
    row.kind,
    row.on,
    row.person,
    row.by,
    timeParameter(row.at),
    timeOrNull(row.saidAt),
    row.clockAheadMs,
    row.note,
  ])) > 0;

export const MARKS_BOUND = 2_000;
const MARKS = statement(
  'proofs-marks',
  `select id, session, kind, subject as "on", person, by, at, said_at as "saidAt", clock_ahead_ms as "clockAheadMs", note
   from proof_marks where session = $1 order by coalesce(said_at, at), id limit ${MARKS_BOUND}`,
);
/** In the order in which they were done. */
export const readProofMarks = (queries: Queries, session: string): Promise<ProofMarkRow[]> =>
  queries.many(MARKS, [session]);

export interface ProofTick {
  readonly item: string;
  readonly happenedAt: Instant;
  readonly arrivedAt: Instant;
}

const ADD_TICK = statement(
  'proofs-add-tick',
  `insert into proof_ticks (session, item, happened_at, arrived_at) values ($1, $2, $3, $4)
   on conflict (session, item) do nothing`,
);
/** The first time counts. */
export const addProofTick = (queries: Queries, session: string, tick: ProofTick): Promise<number> =>
  queries.run(ADD_TICK, [session, tick.item, timeParameter(tick.happenedAt), timeParameter(tick.arrivedAt)]);

const TICKS = statement(
  'proofs-ticks',
  `select item, happened_at as "happenedAt", arrived_at as "arrivedAt" from proof_ticks where session = $1 limit 5000`,
);
export const readProofTicks = (queries: Queries, session: string): Promise<ProofTick[]> =>
  queries.many(TICKS, [session]);

const SEND_DRILL = statement(
  'proofs-send-drill',
  `update proof_sessions set drill = $2, drill_at = $3, drill_answered_at = null, drill_answered_by = null
   where id = $1 and ended_at is null`,
);
export const keepDrill = (queries: Queries, id: string, drill: string, at: Instant): Promise<number> =>
  queries.run(SEND_DRILL, [id, drill, timeParameter(at)]);

const ANSWER_DRILL = statement(
  'proofs-answer-drill',
  `update proof_sessions set drill_answered_at = $2, drill_answered_by = $3 where drill = $1 and drill_answered_at is null`,
);
/** The first answer counts. */
export const answerDrill = (queries: Queries, drill: string, at: Instant, by: string): Promise<number> =>
  queries.run(ANSWER_DRILL, [drill, timeParameter(at), by]);

const OF_DRILL = statement('proofs-of-drill', `select ${COLUMNS} from proof_sessions where drill = $1`);
export const readDrilled = (queries: Queries, drill: string): Promise<ProofSessionRow | null> =>
  queries.maybe(OF_DRILL, [drill]);

export interface ProofSample {
  readonly pointId: number;
  readonly t: Instant;
  readonly value: number;
  readonly quality: number;
}

const SAMPLES = statement(
  'proofs-samples',
  `select p.point_id as "pointId", s.t, s.value, s.quality from unnest($1::int4[]) as p(point_id), lateral (
     (select t, value, quality from samples where point_id = p.point_id and t >= $2 and t < $3 order by t desc limit $4)
     union all
     (select t, value, quality from samples where point_id = p.point_id and t < $2 order by t desc limit 1)
   ) s`,
);
/** Of each point the newest so many within a stretch of claimed time, and the one before it. */
export const readProofSamples = (
  queries: Queries,
  points: readonly number[],
  { from, before }: { readonly from: Instant; readonly before: Instant },
  limit: number,
): Promise<ProofSample[]> =>
  queries.many(SAMPLES, [points, timeParameter(from), timeParameter(before), limit]);

export interface ArrivalDelay {
  readonly gateway: string;
  /** ms from claimed time to arrival: usual, and of the slowest minute */
  readonly usualMs: number;
  readonly slowestMs: number;
}

const DELAYS = statement(
  'proofs-arrivals',
  `select gateway, sum(median_ms * count) / sum(count) as "usualMs", max(median_ms) as "slowestMs"
   from arrivals where site = $1 and minute >= $2 and minute < $3 group by gateway order by gateway`,
);
export const readArrivalDelays = (
  queries: Queries,
  site: string,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): Promise<ArrivalDelay[]> => queries.many(DELAYS, [site, timeParameter(from), timeParameter(to)]);
