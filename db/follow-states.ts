import type { Instant } from '../shared/base/instant.ts';
import type { Standing } from '../shared/inference/standing.ts';
import { statement, type Queries } from './pool.ts';
import { positionOrNull, positionParameter, readPosition } from './follow-times.ts';
import { int4Array } from './values.ts';

/** The newest life of each of a subject's gateways that a fold knew, by the gateway's id; null: never heard. */
export type Lives = Readonly<Record<string, Instant | null>>;

/** What is stored of a subject between two steps: one row of `subject_states`, and its checkpoints. */
export interface StoredState {
  readonly version: number;
  readonly configRevision: number;
  readonly foldVersion: number;
  readonly through: Instant;
  readonly state: unknown;
  readonly standing: Standing | null;
  readonly knownThrough: Instant | null;
  /** the fold failed: why; from `dirtyFrom` on everything is to be folded again */
  readonly stopped: string | null;
  readonly dirtyFrom: Instant | null;
  readonly foldedLives: Lives;
}

const READ = statement(
  'follow-states',
  `select subject_id as id, version, config_revision as "configRevision", fold_version as "foldVersion", through, state,
     standing, known_through as "knownThrough", stopped, dirty_from as "dirtyFrom", folded_lives as "foldedLives"
   from subject_states where subject_id = any($1::int4[])`,
);

/** By the subject's id; none where it was never folded. */
export async function readStates(
  queries: Queries,
  subjectIds: readonly number[],
): Promise<ReadonlyMap<number, StoredState>> {
  const rows = await queries.many<StoredState & { id: number }>(READ, [int4Array(subjectIds)]);
  return new Map(rows.map((row) => [row.id, { ...row, through: readPosition(row.through) }]));
}

/** What a fold knew of time, so that a deadline is woken once for each thing that can answer it. */
export interface FoldedAt {
  readonly now: Instant;
  readonly watched: Instant;
  readonly life: Instant;
  readonly members: Instant;
  readonly lives: Lives;
  /** the least of those that may matter again: -Infinity where a gateway is silent or was never heard */
  readonly leastLife: Instant;
  /** through when each member was known; null: it doesn't matter by itself */
  readonly known: Readonly<Record<string, Instant | null>> | null;
}

export interface SavedState {
  readonly configRevision: number;
  readonly foldVersion: number;
  readonly through: Instant;
  /** as JSON */
  readonly state: string;
  /** null: the step didn't reach the end of the record; what stood stands on */
  readonly standing: Standing | null;
  readonly foldedAt: FoldedAt;
}

const SAVE = statement(
  'follow-save-state',
  `with lowered as (
     insert into work_items (subject_id, earliest) select sm.subject_id, $7::timestamptz from subject_members sm
       join subject_states was on was.subject_id = sm.member_id
     where sm.member_id = $1 and $16 and was.known_through > $7::timestamptz)
   insert into subject_states as st (subject_id, version, config_revision, fold_version, through, state, standing,
     known_through, wake_at, wake_gateway, wake_life_at, wake_members_at, folded_now, folded_watch, folded_life,
     folded_members, folded_lives, folded_least_life, held, folded_known, stopped, dirty_from, saved_at, saved_in)
   values ($1, 1, $2, $3, $4, $5::jsonb, $6::jsonb, $7, $8, $9, $10, $11, $12, $13, $14, $15, $17::jsonb, $18, $19, $20::jsonb, null, null, now(),
     pg_current_xact_id())
   on conflict (subject_id) do update set version = st.version + 1, config_revision = excluded.config_revision,
     fold_version = excluded.fold_version, through = excluded.through, state = excluded.state,
     standing = case when $16 then excluded.standing else st.standing end,
     known_through = case when $16 then excluded.known_through else st.known_through end,
     wake_at = case when $16 then excluded.wake_at else st.wake_at end,
     wake_gateway = case when $16 then excluded.wake_gateway else st.wake_gateway end,
     wake_life_at = case when $16 then excluded.wake_life_at else st.wake_life_at end,
     wake_members_at = excluded.wake_members_at, folded_now = excluded.folded_now,
     folded_watch = excluded.folded_watch, folded_life = excluded.folded_life,
     folded_members = excluded.folded_members, folded_lives = excluded.folded_lives,
     folded_least_life = excluded.folded_least_life, folded_known = excluded.folded_known,
     held = case when $16 then excluded.held else st.held end, stopped = null, dirty_from = null, saved_at = now(),
     saved_in = pg_current_xact_id()`,
);

/**
 * A unit that is known through less than before (a backlog comes of what had counted as silent) sends those who leaned on
 * it back. `waitForMembers`: where a step can't go on before its members are known through this.
 */
export async function saveState(
  queries: Queries,
  subjectId: number,
  saved: SavedState,
  waitForMembers: Instant | null = null,
): Promise<void> {
  const { standing, foldedAt } = saved;
  await queries.run(SAVE, [
    subjectId,
    saved.configRevision,
    saved.foldVersion,
    positionParameter(saved.through),
    saved.state,
    JSON.stringify(standing),
    positionOrNull(standing ? standing.knownThrough : -Infinity),
    positionOrNull(standing?.wakeAt ?? null),
    standing?.wakeOnLife?.gateway ?? null,
    positionOrNull(standing?.wakeOnLife?.at ?? null),
    positionOrNull(standing?.wakeOnMembers ?? waitForMembers),
    positionParameter(foldedAt.now),
    positionParameter(foldedAt.watched),
    positionParameter(foldedAt.life),
    positionParameter(foldedAt.members),
    standing !== null,
    JSON.stringify(foldedAt.lives),
    positionParameter(foldedAt.leastLife),
    standing?.held ?? true,
    foldedAt.known && JSON.stringify(foldedAt.known),
  ]);
}

const STOP = statement(
  'follow-stop',
  `insert into subject_states as st (subject_id, config_revision, fold_version, through, state, standing, stopped,
     dirty_from, known_through)
   values ($1, $2, $3, $4, 'null', 'null', $5, $6, null)
   on conflict (subject_id) do update set version = st.version + 1, config_revision = excluded.config_revision,
     fold_version = excluded.fold_version, stopped = excluded.stopped, known_through = null,
     dirty_from = least(st.dirty_from, excluded.dirty_from), saved_at = now(), saved_in = pg_current_xact_id()`,
);

/**
 * The fold failed: the subject says why and takes no more steps until its configuration or the fold's code changes. It
 * counts as unknown to those that fold its edges.
 */
export async function stopSubject(
  queries: Queries,
  subjectId: number,
  stopped: Pick<SavedState, 'configRevision' | 'foldVersion'> & {
    reason: string;
    dirtyFrom: Instant;
    never: Instant;
  },
): Promise<void> {
  await queries.run(STOP, [
    subjectId,
    stopped.configRevision,
    stopped.foldVersion,
    positionParameter(stopped.never),
    stopped.reason,
    positionParameter(stopped.dirtyFrom),
  ]);
}

const REVIVE = statement(
  'follow-revive',
  `with revived as (
     update subject_states set stopped = null, saved_in = pg_current_xact_id() where stopped is not null returning subject_id
   ) insert into work_items (subject_id, earliest) select subject_id, 'infinity' from revived`,
);

/** At the start of a server: what stopped is tried once more, for the code may be another. */
export const reviveStopped = (queries: Queries): Promise<number> => queries.run(REVIVE);

const OUTDATED = statement(
  'follow-outdated',
  `insert into work_items (subject_id, earliest, because)
   select s.id, '-infinity', '{"kind":"rules"}' from subjects s left join subject_states st on st.subject_id = s.id
   where s.kind = $1 and st.fold_version is distinct from $2
     and not exists (select 1 from work_items w where w.subject_id = s.id)
     and not exists (select 1 from refolds r where r.subject_id = s.id and r.fold_version = $2)`,
);

/** Work for every subject of a kind whose state another version of the fold's code has made, or none yet. */
export const addWorkForOutdated = (queries: Queries, kind: string, foldVersion: number): Promise<number> =>
  queries.run(OUTDATED, [kind, foldVersion]);

export interface Checkpoint {
  readonly through: Instant;
  readonly state: unknown;
  /** false: kept at the floor, and by other code or with nothing known: what was decided up to it stands, its state is no use */
  readonly isUsable: boolean;
}

const NEWEST_BEFORE = statement(
  'follow-checkpoint',
  `select through, state, fold_version = $3 and state <> 'null'::jsonb as "isUsable" from checkpoints
   where subject_id = $1 and (floor_at is not null or through < $2 and fold_version = $3) order by through desc limit 1`,
);
const DROP_FROM = statement(
  'follow-drop-checkpoints',
  'delete from checkpoints where subject_id = $1 and floor_at is null and (through >= $2 or fold_version <> $3)',
);

/**
 * The newest checkpoint before `dirty`, and every later one is gone with it: they have taken what has changed. Never one before
 * that which is kept at the floor (db/floor.ts), however early what has changed lies.
 */
export async function rewindTo(
  queries: Queries,
  subjectId: number,
  dirty: Instant,
  foldVersion: number,
): Promise<Checkpoint | null> {
  await queries.run(DROP_FROM, [subjectId, positionParameter(dirty), foldVersion]);
  const row = await queries.maybe<Checkpoint>(NEWEST_BEFORE, [
    subjectId,
    positionParameter(dirty),
    foldVersion,
  ]);
  return row && { ...row, through: readPosition(row.through) };
}

const THROUGHS = statement(
  'follow-checkpoints',
  `select s.id, c.through from unnest($1::int4[]) as s (id), lateral (
     select through from checkpoints where subject_id = s.id and floor_at is null order by through limit 1000) c
   order by s.id, c.through`,
);
const ADD = statement(
  'follow-add-checkpoint',
  `insert into checkpoints as c (subject_id, through, config_revision, fold_version, state)
   values ($1, $2, $3, $4, $5::jsonb)
   on conflict (subject_id, through) do update set state = excluded.state, config_revision = excluded.config_revision,
     fold_version = excluded.fold_version where c.floor_at is null`,
);
const DROP = statement(
  'follow-drop-surplus',
  'delete from checkpoints where subject_id = $1 and through = any($2::timestamptz[]) and floor_at is null',
);

/** Those of several subjects; each subject's in rising order. */
export const readCheckpointThroughs = (
  queries: Queries,
  subjectIds: readonly number[],
): Promise<{ readonly id: number; readonly through: Instant }[]> =>
  queries.many(THROUGHS, [int4Array(subjectIds)]);

export async function addCheckpoint(
  queries: Queries,
  subjectId: number,
  made: { through: Instant; configRevision: number; foldVersion: number; state: string },
): Promise<void> {
  const { through, configRevision, foldVersion, state } = made;
  await queries.run(ADD, [subjectId, positionParameter(through), configRevision, foldVersion, state]);
}

export const dropCheckpoints = (
  queries: Queries,
  subjectId: number,
  throughs: readonly Instant[],
): Promise<number> => queries.run(DROP, [subjectId, throughs.map(positionParameter)]);
