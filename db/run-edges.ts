import type { Instant } from '../shared/base/instant.ts';
import type { UnitEdge } from '../shared/inference/edge.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** edges of a unit that are counted, over the window; more have no place in an answer */
const BOUND = 5000;

const IS_RUN = `(edge->>'kind' in ('start', 'stop')
  or edge->>'kind' in ('known', 'unknown') and coalesce(edge->'detail'->>'of', 'run') = 'run')`;

const RUN_EDGES = statement(
  'cooling-run-edges',
  `select s.device, x.edge from subjects s cross join lateral (
     (select edge, t, place from unit_edges where subject_id = s.id and t <= $2 and ${IS_RUN}
      order by t desc, place desc limit 1)
     union all
     (select edge, t, place from unit_edges where subject_id = s.id and t > $2 and t <= $3 and ${IS_RUN}
      order by t, place limit ${BOUND})
   ) x where s.site = $1 and s.kind = 'unit' order by x.t, x.place`,
);

/** What a site's units told of their runs within (from, to], and the last of each before: in time order, 5,000 a unit. */
export const readRunEdges = (
  queries: Queries,
  site: string,
  from: Instant,
  to: Instant,
): Promise<{ readonly device: string; readonly edge: UnitEdge }[]> =>
  queries.many(RUN_EDGES, [site, timeParameter(from), timeParameter(to)]);
