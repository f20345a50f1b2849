import type { Instant } from '../shared/base/instant.ts';
import { holdConfiguration } from './configuration-lock.ts';
import { positionParameter, readPosition } from './follow-times.ts';
import type { DueSubject } from './follow-work.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { raiseRevision } from './sites.ts';
import { timeParameter } from './values.ts';

/** The oldest retained instant (architecture 4, "Floor"), on the gateways' corrected clocks. */
export interface Floor {
  /** samples before this come too late */
  readonly at: Instant;
  /** samples from here on are kept, so that a fold which has to begin anew at the floor learns what stands */
  readonly keptFrom: Instant;
}

const READ = statement('floor-read', 'select at, kept_from as "keptFrom" from record_floor');

/** null: everything is retained. */
export const readFloor = (queries: Queries): Promise<Floor | null> => queries.maybe<Floor>(READ);

const MOVE = statement(
  '',
  `insert into record_floor as f (at, kept_from) values ($1, $2)
   on conflict (only_row) do update set at = excluded.at, kept_from = excluded.kept_from, moved_at = now() where f.at < excluded.at`,
);

/**
 * Raises the floor; it never falls. A change of configuration as any other: every batch that is committed after it is decoded
 * with it. False: it stands there already, or higher.
 */
export const moveFloor = (database: Database, { at, keptFrom }: Floor): Promise<boolean> =>
  database.transaction({ name: 'move-floor' }, async (queries) => {
    await holdConfiguration(queries);
    if ((await queries.run(MOVE, [timeParameter(at), timeParameter(keptFrom)])) === 0) return false;
    await raiseRevision(queries);
    return true;
  });

const LACKING = statement(
  'floor-lacking',
  `select s.id, s.site, s.kind, s.device from subjects s join subject_states st on st.subject_id = s.id
   where not exists (select from checkpoints c where c.subject_id = s.id and c.floor_at >= $1)
   order by case s.kind when 'unit' then 0 else 1 end, s.id limit $2`,
);

/** Subjects that have a state and no checkpoint at this floor yet. */
export const readLacking = (queries: Queries, floor: Floor, limit: number): Promise<DueSubject[]> =>
  queries.many<DueSubject>(LACKING, [timeParameter(floor.at), limit]);

const WAITS = statement(
  'floor-waits',
  `select exists (select from work_items where subject_id = $1 and earliest < $2)
     or exists (select from refolds where subject_id = $1) as waits`,
);

/** Something before the floor is still to be folded. */
export const isBehind = async (queries: Queries, subjectId: number, floor: Floor): Promise<boolean> =>
  (await queries.one<{ waits: boolean }>(WAITS, [subjectId, timeParameter(floor.at)])).waits;

const NEWEST = statement(
  'floor-newest',
  `select through, state from (
     select through, state from checkpoints where subject_id = $1 and fold_version = $3 and through < $2
     union all
     select through, state from subject_states where subject_id = $1 and fold_version = $3 and through < $2 and stopped is null
   ) known where state <> 'null'::jsonb order by through desc limit 1`,
);

export interface KnownState {
  readonly through: Instant;
  readonly state: unknown;
}

/** What this code has stored of a subject last before the floor. */
export async function readNewestBefore(
  queries: Queries,
  subjectId: number,
  { floor, foldVersion }: { readonly floor: Floor; readonly foldVersion: number },
): Promise<KnownState | null> {
  const row = await queries.maybe<KnownState>(NEWEST, [subjectId, timeParameter(floor.at), foldVersion]);
  return row && { ...row, through: readPosition(row.through) };
}

const KEEP = statement(
  'floor-keep',
  `insert into checkpoints (subject_id, through, config_revision, fold_version, state, floor_at)
   values ($1, $2, $3, $4, $5::jsonb, $6)
   on conflict (subject_id, through) do update set config_revision = excluded.config_revision, fold_version = excluded.fold_version,
     state = excluded.state, floor_at = excluded.floor_at`,
);
const FORGET = statement('floor-forget', 'delete from checkpoints where subject_id = $1 and through < $2');

/** The checkpoint that stays; those before it are of no more use. `state`: JSON, `null` for one that begins with nothing known. */
export async function keepAtFloor(
  queries: Queries,
  subjectId: number,
  kept: {
    readonly through: Instant;
    readonly configRevision: number;
    readonly foldVersion: number;
    readonly state: string;
    readonly floor: Floor;
  },
): Promise<void> {
  const through = positionParameter(kept.through);
  await queries.run(KEEP, [
    subjectId,
    through,
    kept.configRevision,
    kept.foldVersion,
    kept.state,
    timeParameter(kept.floor.at),
  ]);
  await queries.run(FORGET, [subjectId, through]);
}

const BEGINS_ANEW = statement(
  'floor-begins-anew',
  `select exists (
     select from checkpoints where subject_id = $1 and through = $2 and floor_at is not null
       and (fold_version <> $3 or state = 'null'::jsonb)
   ) as anew`,
);

/** Does whatever goes back to there begin with nothing known, because what is kept at the floor is of no use to this code? */
export const beginsAnewAt = async (
  queries: Queries,
  subjectId: number,
  through: Instant,
  foldVersion: number,
): Promise<boolean> =>
  Number.isFinite(through) &&
  (await queries.one<{ anew: boolean }>(BEGINS_ANEW, [subjectId, positionParameter(through), foldVersion]))
    .anew;
