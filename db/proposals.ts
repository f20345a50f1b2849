import { after, type Proposal, type TakenStep } from '../shared/stagger/life.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** Proposals of other delays, and what people did about them. Steps are only ever added; the state is where they led. */
export type ProposalRow = Proposal;

export interface ProposalStepRow extends TakenStep {
  readonly id: string;
  readonly proposal: string;
  /** id of a person; null: a program */
  readonly person: string | null;
}

const ADD = statement(
  'proposals-add',
  `insert into proposals (id, site, panel, drafted_at, drafted_by, state, plan)
   values ($1, $2, $3, $4, $5, 'drafted', $6::jsonb) on conflict do nothing`,
);

/** False: one is open on this panel already. */
export const addProposal = async (queries: Queries, row: Omit<ProposalRow, 'state'>): Promise<boolean> =>
  (await queries.run(ADD, [
    row.id,
    row.site,
    row.panel,
    timeParameter(row.draftedAt),
    row.draftedBy,
    JSON.stringify(row.plan),
  ])) > 0;

const COLUMNS = `id, site, panel, drafted_at as "draftedAt", drafted_by as "draftedBy", state, plan`;

const OF_PANEL = statement(
  'proposals-of-panel',
  `select ${COLUMNS} from proposals where site = $1 and panel = $2 order by drafted_at desc, id limit $3`,
);

/** The newest first. */
export const readProposals = (
  queries: Queries,
  { site, panel }: { readonly site: string; readonly panel: string },
  limit: number,
): Promise<ProposalRow[]> => queries.many<ProposalRow>(OF_PANEL, [site, panel, limit]);

const LATEST = statement(
  'proposals-latest',
  `select distinct on (site, panel) ${COLUMNS} from proposals
   where state <> 'withdrawn' and ($1::text[] is null or site = any($1))
   order by site, panel, drafted_at desc, id limit $2`,
);

/** The newest of each panel that wasn't withdrawn. `only`: of these sites; null: of all. */
export const readLatestProposals = (
  queries: Queries,
  only: readonly string[] | null,
  limit: number,
): Promise<ProposalRow[]> => queries.many<ProposalRow>(LATEST, [only, limit]);

const ONE = statement('proposals-one', `select ${COLUMNS} from proposals where id = $1 for update`);

/** Locked until the transaction ends; null: there is none. */
export const holdProposal = (queries: Queries, id: string): Promise<ProposalRow | null> =>
  queries.maybe<ProposalRow>(ONE, [id]);

const STEPS = statement(
  'proposals-steps',
  `select id, proposal, step, person, by, at, from_at as "fromAt", read_backs as "readBacks", note
   from proposal_steps where proposal = any($1::uuid[]) order by at, id limit 2000`,
);

export const readProposalSteps = (
  queries: Queries,
  proposals: readonly string[],
): Promise<ProposalStepRow[]> => queries.many<ProposalStepRow>(STEPS, [proposals]);

const ADD_STEP = statement(
  'proposals-add-step',
  `insert into proposal_steps (id, proposal, step, person, by, at, from_at, read_backs, note)
   values ($1, $2, $3, $4, $5, $6, $7, $8::jsonb, $9)`,
);
const MOVE = statement('proposals-move', 'update proposals set state = $2 where id = $1');

/** In the transaction that holds it. False: it can't be taken as things stand. */
export async function addProposalStep(
  queries: Queries,
  held: ProposalRow,
  row: ProposalStepRow,
): Promise<boolean> {
  const state = after(held.state, row.step);
  if (state === null) return false;
  await queries.run(ADD_STEP, [
    row.id,
    row.proposal,
    row.step,
    row.person,
    row.by,
    timeParameter(row.at),
    timeOrNull(row.fromAt),
    row.readBacks && JSON.stringify(row.readBacks),
    row.note,
  ]);
  await queries.run(MOVE, [row.proposal, state]);
  return true;
}
