import { randomUUID } from 'node:crypto';
import Type from 'typebox';
import { addProposal, readProposals, readProposalSteps, type ProposalRow } from '../../db/proposals.ts';
import type { Queries } from '../../db/pool.ts';
import { Problem } from '../../shared/wire/problem.ts';
import {
  ProposalAnswer,
  ProposalList,
  StaggerList,
  StaggerPlanAnswer,
} from '../../shared/wire/stagger-answer.ts';
import { SetAsk, StaggerAsk, StepNote } from '../../shared/wire/stagger-ask.ts';
import { wirePlan, wireProposal, wireRestart } from '../../shared/wire/stagger-wire.ts';
import type { Service } from '../service.ts';
import { OUTAGES, readPanelCase, sinceOf, type PanelCase } from '../stagger/panel-case.ts';
import { planPanel, sparedBy } from '../stagger/plan-panel.ts';
import { keptOf, setProposal, takeProposalStep, type Step } from '../stagger/proposals.ts';
import { readStaggerList } from '../stagger/read-list.ts';
import { readLastRestarts } from '../../db/read-restarts.ts';
import { inSnapshot } from '../status/read-status.ts';
import { sitesOf } from './access.ts';
import { personOf } from './alarm-routes.ts';
import type { App } from './app.ts';
import { instantOf, Slug } from './query.ts';
import { Refusal } from './refusal.ts';
import { workOrderRoute } from './work-order-routes.ts';

/** Delays planned for a panel's units, and proposals with their life (handbook 5.4, contract section 5). */
const PanelParameters = Type.Object({ site: Slug, panel: Slug });
const ProposalParameters = Type.Object({
  site: Slug,
  panel: Slug,
  proposal: Type.String({ format: 'uuid' }),
});
const SEE = { action: 'see-sites' } as const;
const PROPOSE = { action: 'propose-settings' } as const;
const RECORD = { action: 'record-settings' } as const;
const MOST_PROPOSALS = 50;

export function staggerRoutes(app: App, service: Service): void {
  planRoutes(app, service);
  proposalRoutes(app, service);
  stepRoutes(app, service);
  workOrderRoute(app, service);
}

function planRoutes(app: App, service: Service): void {
  const plan = {
    params: PanelParameters,
    body: StaggerAsk,
    response: { 200: StaggerPlanAnswer, 400: Problem, 404: Problem },
  };
  const config = { action: 'try-settings' } as const;
  app.post('/panels/:site/:panel/stagger-plan', { schema: plan, config }, async ({ params, body }) => {
    refuseRange(body);
    const at = await inSnapshot(service.database, (queries) => caseOf(queries, service, params));
    const { site, panel, names, restarts } = at;
    const planned = planPanel(at, body);
    return {
      site: { id: site.id, name: site.name, timeZone: site.timeZone },
      panel: { id: panel.id, name: panel.name, minimumStartSeparation: panel.minimumStartSeparationSeconds },
      names: { ...names },
      asked: body,
      plan: wirePlan(planned),
      restarts: restarts.map(wireRestart),
      ...sparedBy(at, planned),
    };
  });

  app.get('/stagger', { schema: { response: { 200: StaggerList } }, config: SEE }, (request) =>
    readStaggerList(service, sitesOf(request)),
  );
}

function proposalRoutes(app: App, service: Service): void {
  const list = { params: PanelParameters, response: { 200: ProposalList, 404: Problem } };
  app.get('/panels/:site/:panel/proposals', { schema: list, config: SEE }, async ({ params }) => {
    const items = await inSnapshot(service.database, async (queries) => {
      await caseOf(queries, service, params);
      return answers(queries, service, await readProposals(queries, params, MOST_PROPOSALS));
    });
    return { items, cursor: null };
  });

  const draft = {
    params: PanelParameters,
    body: StaggerAsk,
    response: { 201: ProposalAnswer, 400: Problem, 404: Problem, 409: Problem },
  };
  app.post('/panels/:site/:panel/proposals', { schema: draft, config: PROPOSE }, async (request, reply) => {
    const { params, body, actor, audited } = request;
    refuseRange(body);
    const at = await inSnapshot(service.database, (queries) => caseOf(queries, service, params));
    const plan = planPanel(at, body);
    if (plan.changes === 0)
      throw new Refusal('not-now', 'Nothing would be set otherwise: there is nothing to propose.');
    const row = { id: randomUUID(), ...params, draftedAt: service.now(), draftedBy: actor.name, plan };
    audited.detail = { proposal: row.id, changes: plan.changes };
    if (!(await addProposal(service.database, row)))
      throw new Refusal('conflict', 'A proposal is open for this panel: set it or withdraw it first.');
    void reply.code(201);
    return wireProposal({ ...row, state: 'drafted' }, [], null);
  });
}

function stepRoutes(app: App, service: Service): void {
  for (const step of ['agree', 'withdraw'] as const) {
    const schema = {
      params: ProposalParameters,
      body: StepNote,
      response: { 200: ProposalAnswer, 404: Problem, 409: Problem },
    };
    app.post(`/panels/:site/:panel/proposals/:proposal/${step}`, { schema, config: PROPOSE }, (request) => {
      const { params, body, actor, audited } = request;
      audited.detail = { proposal: params.proposal, step };
      const asked = {
        ...params,
        person: personOf(actor),
        by: actor.name,
        at: service.now(),
        note: body.note ?? '',
      };
      return taken(service, asked, (queries) => takeProposalStep(queries, step, asked));
    });
  }

  const set = {
    params: ProposalParameters,
    body: SetAsk,
    response: { 200: ProposalAnswer, 400: Problem, 404: Problem, 409: Problem },
  };
  app.post(
    '/panels/:site/:panel/proposals/:proposal/set',
    { schema: set, config: RECORD },
    async (request) => {
      const { params, body, actor, audited } = request;
      const at = service.now();
      const readBacks = body.readBacks.map(({ shows = '', ...rest }) => ({ ...rest, shows }));
      const fromAt = body.at === undefined ? at : instantOf('at', body.at);
      audited.detail = { proposal: params.proposal, step: 'set', readBacks };
      const asked = { ...params, person: personOf(actor), by: actor.name, at, note: body.note ?? '' };
      const answer = await taken(service, asked, (queries) =>
        setProposal(queries, { ...asked, fromAt, readBacks }),
      );
      service.follower?.nudge();
      return answer;
    },
  );
}

/** A step in one transaction, and the proposal as it is then. */
const taken = (
  service: Service,
  asked: Step,
  work: (queries: Queries) => Promise<void>,
): Promise<ProposalAnswer> =>
  service.database.transaction({ name: 'proposal' }, async (queries) => {
    await work(queries);
    const rows = await readProposals(queries, asked, MOST_PROPOSALS);
    const found = await answers(
      queries,
      service,
      rows.filter(({ id }) => id === asked.proposal),
    );
    return found[0]!;
  });

async function answers(
  queries: Queries,
  service: Service,
  rows: readonly ProposalRow[],
): Promise<ProposalAnswer[]> {
  const first = rows[0];
  if (!first) return [];
  const steps = await readProposalSteps(
    queries,
    rows.map(({ id }) => id),
  );
  const since = Math.min(sinceOf(service.now()), ...rows.map(({ draftedAt }) => draftedAt));
  const asked = { only: [first.site], panel: first.panel, since, each: MOST_RESTARTS, limit: MOST_RESTARTS };
  const sequences = await readLastRestarts(queries, asked);
  return rows.map((row) => {
    const own = steps.filter(({ proposal }) => proposal === row.id);
    return wireProposal(row, own, keptOf(row, own, sequences));
  });
}

/** of one panel, since its oldest proposal */
const MOST_RESTARTS = 100 * OUTAGES;

async function caseOf(
  queries: Queries,
  service: Service,
  { site, panel }: { readonly site: string; readonly panel: string },
): Promise<PanelCase> {
  const setup = await service.setups.read(queries, site);
  if (!setup) throw new Refusal('not-found', `There is no site "${site}".`);
  const at = await readPanelCase(queries, setup, panel, service.now());
  if (!at) throw new Refusal('not-found', `There is no panel "${panel}" at this site.`);
  return at;
}

function refuseRange({ floor = 180, most = 300 }: StaggerAsk): void {
  if (floor <= most) return;
  throw new Refusal('bad-request', 'Nothing can be set between the two.', [
    { pointer: '/floor', message: `Give at most ${most}, or a greater "most".` },
  ]);
}
