import { randomUUID } from 'node:crypto';
import Type from 'typebox';
import { addAlarmWork } from '../../db/alarms.ts';
import { putTuning, readTuning, readTuningChanges } from '../../db/alarm-commands.ts';
import { tuningFaults, type Tuning } from '../../shared/alarms/tuning.ts';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { TuningAnswer, TuningBody, WorkAnswer, WorkAsk } from '../../shared/wire/alarm-answer.ts';
import { wireWork } from '../../shared/wire/alarm-wire.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { Service } from '../service.ts';
import type { App } from './app.ts';
import { decided } from './decided.ts';
import { SiteParameter, Slug } from './query.ts';
import { Refusal } from './refusal.ts';

/** Work in progress, and what a manager may change of the alarm rules (handbook 7). */
const WORK = { action: 'work-on-units' } as const;

export function workRoutes(app: App, service: Service): void {
  const begin = {
    params: SiteParameter,
    body: WorkAsk,
    response: { 201: WorkAnswer, 404: Problem, 409: Problem, 422: Problem },
  };
  app.post('/sites/:site/work', { schema: begin, config: WORK }, async (request, reply) => {
    const { site } = request.params;
    const configured = await siteNow(service, site);
    const { units, minutes, command } = request.body;
    const unknown = units.find((unit) => !configured.units.some(({ id }) => id === unit));
    if (unknown !== undefined)
      throw new Refusal('bad-configuration', `There is no unit "${unknown}" at this site.`);
    const at = service.now();
    const by = request.actor.name;
    const id = command ?? randomUUID();
    const until = at + seconds(minutes * 60);
    await decided(service, site, { command: { id, kind: 'begin-work', units, by, at, until }, by, at });
    void reply.code(201);
    return wireWork({ id, site, units, by, from: at, until, endedAt: null });
  });

  const end = {
    params: Type.Object({ site: Slug, work: Type.String({ maxLength: 100 }) }),
    response: { 204: Type.Null(), 404: Problem, 409: Problem },
  };
  app.delete('/sites/:site/work/:work', { schema: end, config: WORK }, async (request, reply) => {
    const { site, work } = request.params;
    await siteNow(service, site);
    const at = service.now();
    const by = request.actor.name;
    await decided(service, site, { command: { id: randomUUID(), kind: 'end-work', work, by, at }, by, at });
    void reply.code(204);
    return null;
  });
  tuningRoutes(app, service);
}

function tuningRoutes(app: App, service: Service): void {
  const get = { params: SiteParameter, response: { 200: TuningAnswer, 404: Problem } };
  app.get(
    '/sites/:site/alarm-settings',
    { schema: get, config: { action: 'see-sites' } },
    async ({ params }) => {
      await siteNow(service, params.site);
      return tuningAnswer(service, params.site);
    },
  );
  const put = {
    params: SiteParameter,
    body: TuningBody,
    response: { 200: TuningAnswer, 404: Problem, 422: Problem },
  };
  app.put(
    '/sites/:site/alarm-settings',
    { schema: put, config: { action: 'tune-alarms' } },
    async ({ params, body, actor }) => {
      const site = await siteNow(service, params.site);
      const tuning: Tuning = body.rules.map((one) => ({ ...one, unit: one.unit ?? null }));
      const faults = tuningFaults(
        tuning,
        site.units.map(({ id }) => id),
      );
      if (faults.length > 0)
        throw new Refusal(
          'bad-configuration',
          'These alarm settings can’t be taken.',
          faults.map(({ index, field, message }) => ({ pointer: `/rules/${index}/${field}`, message })),
        );
      await service.database.transaction({ name: 'put-tuning' }, async (queries) => {
        const change = { at: service.now(), by: actor.name, rules: tuning };
        await putTuning(queries, params.site, change);
        await addAlarmWork(queries, params.site, [{ eventId: null, what: 'asked' }]);
      });
      service.alarmsChanged();
      return tuningAnswer(service, params.site);
    },
  );
}

const CHANGES_SHOWN = 50;

async function tuningAnswer({ database }: Service, site: string): Promise<TuningAnswer> {
  const changes = await readTuningChanges(database, site, CHANGES_SHOWN);
  return {
    rules: [...(await readTuning(database, site))],
    changes: changes.map(({ at, by, rules }) => ({ at: formatInstant(at), by, rules: [...rules] })),
  };
}

async function siteNow(service: Service, id: string): Promise<Site> {
  const setup = await service.setups.read(service.database, id);
  const site = setup && siteAt(setup.history, service.now());
  if (!site) throw new Refusal('not-found', `There is no site "${id}".`);
  return site;
}
