import { randomUUID } from 'node:crypto';
import Type from 'typebox';
import { readAlarm } from '../../db/read-alarms.ts';
import type { Queries } from '../../db/pool.ts';
import { addFindings, readFindings } from '../../db/visits.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import { findingsFaults, type Findings } from '../../shared/visit/findings.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { EarlierVisits, FindingsAnswer, FindingsAsk, VisitAnswer } from '../../shared/wire/visit-answer.ts';
import { wireFindings } from '../../shared/wire/visit-wire.ts';
import { readWithJournal } from '../alarms/with-journal.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { readEarlier } from '../visits/earlier.ts';
import { readVisit, type VisitCase } from '../visits/read-visit.ts';
import { refuseOutOfScope } from './access.ts';
import { personOf, thereIsNo } from './alarm-routes.ts';
import type { App } from './app.ts';
import { saidAtOf } from './query.ts';
import { Refusal } from './refusal.ts';
import { stepRoutes } from './step-routes.ts';

/** An alarm for whoever goes there, and what they found (handbook 8). Steps are step-routes.ts. */
const AlarmParameter = Type.Object({ id: Type.String({ maxLength: 100 }) });
const SEE = { action: 'see-sites' } as const;

export function visitRoutes(app: App, service: Service): void {
  const visit = { params: AlarmParameter, response: { 200: VisitAnswer, 404: Problem } };
  app.get('/alarms/:id/visit', { schema: visit, config: SEE }, async (request) => {
    const { id } = request.params;
    const found = await inSnapshot(service.database, async (queries) => {
      const at = await caseOf(queries, service, id);
      refuseOutOfScope(request, at.site.id, thereIsNo(id));
      const alarm = await readWithJournal(queries, at.kept, at.site);
      return { alarm, ...(await readVisit(queries, service, at)) };
    });
    return found;
  });

  const earlier = { params: AlarmParameter, response: { 200: EarlierVisits, 404: Problem } };
  app.get('/alarms/:id/earlier', { schema: earlier, config: SEE }, async (request) => {
    const { id } = request.params;
    const items = await inSnapshot(service.database, async (queries) => {
      const at = await caseOf(queries, service, id);
      refuseOutOfScope(request, at.site.id, thereIsNo(id));
      return readEarlier(queries, at);
    });
    return { items, cursor: null };
  });
  stepRoutes(app, service);
  findingsRoute(app, service);
}

function findingsRoute(app: App, { database, now }: Service): void {
  const schema = {
    params: AlarmParameter,
    body: FindingsAsk,
    response: { 201: FindingsAnswer, 404: Problem, 422: Problem },
  };
  const config = { action: 'answer-alarms' } as const;
  app.post('/alarms/:id/findings', { schema, config }, async (request, reply) => {
    const { params, body, actor, audited } = request;
    const found = await readAlarm(database, params.id);
    if (!found) throw new Refusal('not-found', thereIsNo(params.id));
    const { site, subject } = found.alarm;
    refuseOutOfScope(request, site, thereIsNo(params.id));
    const { command, saidAt, ...rest } = body;
    const findings = rest as Findings;
    const faults = findingsFaults(findings);
    if (faults.length > 0)
      throw new Refusal('bad-findings', 'These findings can’t be kept as they are.', faults);
    const id = command ?? randomUUID();
    const at = now();
    audited.detail = { alarm: params.id, cause: findings.cause };
    await addFindings(database, {
      id,
      site,
      alarm: params.id,
      unit: subject.unit,
      person: personOf(actor) ?? actor.name,
      by: actor.name,
      at,
      saidAt: saidAtOf(saidAt, at),
      body: findings,
    });
    const kept = (await readFindings(database, [params.id])).find((one) => one.id === id);
    if (!kept)
      throw new Refusal('conflict', 'That wish was for another alarm: send it under an id of its own.');
    void reply.code(201);
    return wireFindings(kept);
  });
}

async function caseOf(queries: Queries, service: Service, id: string): Promise<VisitCase> {
  const kept = await readAlarm(queries, id);
  const setup = kept && (await service.setups.read(queries, kept.alarm.site));
  const now = service.now();
  const site = setup && siteAt(setup.history, now);
  if (!kept || !setup || !site) throw new Refusal('not-found', thereIsNo(id));
  return { kept, setup, site, now };
}
