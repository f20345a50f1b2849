import type { Instant } from '../shared/base/instant.ts';
import type { UnitEdge } from '../shared/inference/edge.ts';
import { statement, type Queries } from './pool.ts';
import { positionOrNull, positionParameter } from './follow-times.ts';
import { int4Array } from './values.ts';

/** A unit's edges, as the follower reads and writes them; panels and spaces read them as part of their record. */
export interface EdgeRow {
  readonly t: Instant;
  readonly place: number;
  readonly settledAt: Instant | null;
  readonly edge: UnitEdge;
}

const READ_UNDECIDED = statement(
  'follow-undecided-edges',
  `select subject_id as id, t, place, settled_at as "settledAt", edge from unit_edges
   where subject_id = any($1::int4[]) and settled_at is null`,
);
const READ_DECIDED = statement(
  'follow-decided-edges',
  `select t, place, settled_at as "settledAt", edge from unit_edges
   where subject_id = $1 and settled_at is not null and (settled_at > $2 or t >= $3)`,
);

/** Those of several subjects that aren't decided yet. */
export const readUndecidedEdges = (
  queries: Queries,
  subjectIds: readonly number[],
): Promise<(EdgeRow & { readonly id: number })[]> => queries.many(READ_UNDECIDED, [int4Array(subjectIds)]);

/** Those that were decided by a row after `since`, and every one from `from` on, among which new ones take their place. */
export const readDecidedEdges = (
  queries: Queries,
  subjectId: number,
  since: Instant,
  from: Instant,
): Promise<EdgeRow[]> =>
  queries.many<EdgeRow>(READ_DECIDED, [subjectId, positionParameter(since), positionParameter(from)]);

const PUT = statement(
  'follow-put-edge',
  `insert into unit_edges (subject_id, t, place, settled_at, edge) values ($1, $2, $3, $4, $5::jsonb)
   on conflict (subject_id, t, place) do update set settled_at = excluded.settled_at, edge = excluded.edge`,
);
const DROP = statement(
  'follow-drop-edge',
  'delete from unit_edges where subject_id = $1 and t = $2 and place = $3',
);

export async function putEdge(queries: Queries, subjectId: number, row: EdgeRow): Promise<void> {
  await queries.run(PUT, [
    subjectId,
    positionParameter(row.t),
    row.place,
    positionOrNull(row.settledAt),
    JSON.stringify(row.edge),
  ]);
}

export async function dropEdge(queries: Queries, subjectId: number, row: EdgeRow): Promise<void> {
  await queries.run(DROP, [subjectId, positionParameter(row.t), row.place]);
}

const READ_POWER = statement(
  'power-edges',
  `select s.device as unit, e.edge from unit_edges e join subjects s on s.id = e.subject_id
   where s.site = $1 and s.kind = 'unit' and e.t >= $2 and e.edge->>'kind' in ('power-away', 'power-back')
   order by e.t desc, s.device, e.place limit $3`,
);

/** The newest changes of control power of a site's units. */
export const readPowerEdges = (
  queries: Queries,
  site: string,
  from: Instant,
  limit: number,
): Promise<{ readonly unit: string; readonly edge: UnitEdge }[]> =>
  queries.many(READ_POWER, [site, positionParameter(from), limit]);
