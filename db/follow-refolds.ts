import type { Instant } from '../shared/base/instant.ts';
import type { UnitEdge } from '../shared/inference/edge.ts';
import type { EventDraft } from '../shared/inference/event.ts';
import type { RevisionWhy } from '../shared/inference/revision.ts';
import type { Lives } from './follow-states.ts';
import { statement, type Queries } from './pool.ts';
import { positionParameter, readPosition } from './follow-times.ts';
import { int4Array } from './values.ts';

/**
 * A re-inference too long for one step grows here as a generation of its own, while what it will replace stands: its
 * state, and what it has decided so far.
 */
export interface Refold {
  /** what was decided at or before stands; everything after is made anew */
  readonly base: Instant;
  readonly foldVersion: number;
  readonly through: Instant;
  readonly state: unknown;
  readonly foldedLives: Lives;
  /** why it was begun */
  readonly because: RevisionWhy | null;
}

const READ = statement(
  'refold-read',
  `select subject_id as id, base, fold_version as "foldVersion", through, state, folded_lives as "foldedLives", because
   from refolds where subject_id = any($1::int4[])`,
);
const PUT = statement(
  'refold-put',
  `insert into refolds (subject_id, base, fold_version, through, state, folded_lives, because)
   values ($1, $2, $3, $4, $5::jsonb, $6::jsonb, $7::jsonb)
   on conflict (subject_id) do update set base = excluded.base, fold_version = excluded.fold_version,
     through = excluded.through, state = excluded.state, folded_lives = excluded.folded_lives, because = excluded.because`,
);
const DROP = statement('refold-drop', 'delete from refolds where subject_id = $1');

/** By the subject's id; none where no re-inference is under way. */
export async function readRefolds(
  queries: Queries,
  subjectIds: readonly number[],
): Promise<ReadonlyMap<number, Refold>> {
  const rows = await queries.many<Refold & { id: number }>(READ, [int4Array(subjectIds)]);
  const read = (row: Refold) => ({
    ...row,
    base: readPosition(row.base),
    through: readPosition(row.through),
  });
  return new Map(rows.map(({ id, ...row }) => [id, read(row)]));
}

export async function putRefold(
  queries: Queries,
  subjectId: number,
  refold: Omit<Refold, 'state'> & { readonly state: string },
): Promise<void> {
  const { base, foldVersion, through, state, foldedLives, because } = refold;
  await queries.run(PUT, [
    subjectId,
    positionParameter(base),
    foldVersion,
    positionParameter(through),
    state,
    JSON.stringify(foldedLives),
    because && JSON.stringify(because),
  ]);
}

export const dropRefold = async (queries: Queries, subjectId: number): Promise<void> => {
  await queries.run(DROP, [subjectId]);
};

export interface Decided {
  readonly events: readonly { readonly event: EventDraft; readonly at: Instant }[];
  readonly edges: readonly { readonly edge: UnitEdge; readonly at: Instant }[];
}

const ADD_EVENTS = statement(
  'refold-add-events',
  `insert into refold_events (subject_id, id, settled_at, body)
   select $1, e->'event'->>'id', (e->>'at')::timestamptz, e->'event'
   from jsonb_array_elements($2::jsonb) e
   on conflict (subject_id, id) do update set settled_at = excluded.settled_at, body = excluded.body`,
);
const ADD_EDGES = statement(
  'refold-add-edges',
  `insert into refold_edges (subject_id, number, settled_at, edge)
   select $1, coalesce((select max(number) from refold_edges where subject_id = $1), 0) + place,
     (e->>'at')::timestamptz, e->'edge'
   from jsonb_array_elements($2::jsonb) with ordinality as found(e, place)`,
);

export async function addDecided(
  queries: Queries,
  subjectId: number,
  { events, edges }: Decided,
): Promise<void> {
  if (events.length > 0) await queries.run(ADD_EVENTS, [subjectId, asRows(events)]);
  if (edges.length > 0) await queries.run(ADD_EDGES, [subjectId, asRows(edges)]);
}

const asRows = (decided: readonly { readonly at: Instant }[]): string =>
  JSON.stringify(decided.map((one) => ({ ...one, at: positionParameter(one.at) })));

const READ_EVENTS = statement(
  'refold-events',
  'select body as event, settled_at as at from refold_events where subject_id = $1',
);
const READ_EDGES = statement(
  'refold-edges',
  'select edge, settled_at as at from refold_edges where subject_id = $1 order by number',
);

export async function readDecided(queries: Queries, subjectId: number): Promise<Decided> {
  const events = await queries.many<Decided['events'][number]>(READ_EVENTS, [subjectId]);
  return { events, edges: await queries.many(READ_EDGES, [subjectId]) };
}

const FORGET_EVENTS = statement(
  'refold-forget-events',
  'delete from refold_events where subject_id = $1 and settled_at > $2',
);
const FORGET_EDGES = statement(
  'refold-forget-edges',
  'delete from refold_edges where subject_id = $1 and settled_at > $2',
);

/** The generation itself has to go back: what it decided after `through` is forgotten. */
export async function forgetDecided(queries: Queries, subjectId: number, through: Instant): Promise<void> {
  const values = [subjectId, positionParameter(through)];
  await queries.run(FORGET_EVENTS, values);
  await queries.run(FORGET_EDGES, values);
}
