import { randomUUID } from 'node:crypto';
import Type from 'typebox';
import type { AskedCommand } from '../../db/alarm-commands.ts';
import { readEscalation } from '../../db/escalations.ts';
import { readAlarm } from '../../db/read-alarms.ts';
import { readSteps } from '../../db/visits.ts';
import { isHidden } from '../../shared/alarms/life.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import { EscalationAnswer } from '../../shared/wire/on-call-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { StepAsk } from '../../shared/wire/visit-answer.ts';
import type { Service } from '../service.ts';
import { takeStep } from '../visits/take-step.ts';
import { refuseOutOfScope } from './access.ts';
import { personOf } from './alarm-routes.ts';
import type { App } from './app.ts';
import { decided } from './decided.ts';
import { wireEscalation } from './on-call-routes.ts';
import { saidAtOf } from './query.ts';
import { Refusal } from './refusal.ts';

/**
 * The next step of whoever has accepted an alarm (handbook 7): it puts off the question whether they are still on it. "On
 * site" puts its unit into work in progress and begins the two hours after which they are asked whether they are all right;
 * "left" ends both. Whoever takes a step has it from then on.
 */
export function stepRoutes(app: App, service: Service): void {
  const schema = {
    params: Type.Object({ id: Type.String({ maxLength: 100 }) }),
    body: StepAsk,
    response: { 200: EscalationAnswer, 404: Problem, 409: Problem, 422: Problem },
  };
  const config = { action: 'answer-alarms' } as const;
  app.post('/alarms/:id/step', { schema, config }, async (request) => {
    const { params, body, actor, audited } = request;
    const alarm = params.id;
    const thereIsNone = `Nobody is told of an alarm "${alarm}".`;
    const found = await readEscalation(service.database, alarm);
    const kept = await readAlarm(service.database, alarm);
    if (found === null || kept === null) throw new Refusal('not-found', thereIsNone);
    const { site } = found;
    refuseOutOfScope(request, site, thereIsNone);
    if ((await readSteps(service.database, [alarm])).some(({ id }) => id === body.command))
      return wireEscalation(found);
    if (found.state !== 'owned' && body.step !== 'left')
      throw new Refusal('not-now', 'Nobody has accepted it, or it is over: accept it first.');
    const { step } = body;
    audited.detail = { alarm, step };
    const [at, by] = [service.now(), actor.name];
    const id = body.command ?? randomUUID();
    const owner = personOf(actor);
    const person = owner ?? by;
    const decide = (asked: AskedCommand) => decided(service, site, asked);
    if (found.owner !== person && step !== 'left' && !isHidden(kept.alarm.life))
      await decide({
        command: { id: randomUUID(), kind: 'alarm', alarm, asked: { kind: 'accept', by, person: owner, at } },
        by,
        at,
      });
    const units = body.units ?? (kept.alarm.subject.unit === null ? [] : [kept.alarm.subject.unit]);
    if (step === 'on-site') await refuseUnknown(service, site, units);
    await takeStep(
      {
        decide,
        queries: service.database,
        transaction: (work) => service.database.transaction({ name: 'step' }, work),
      },
      { id, site, alarm, step, person, by, at, saidAt: saidAtOf(body.saidAt, at) },
      units,
    );
    service.alarmsChanged();
    return wireEscalation((await readEscalation(service.database, alarm))!);
  });
}

async function refuseUnknown(service: Service, site: string, units: readonly string[]): Promise<void> {
  const setup = await service.setups.read(service.database, site);
  const known = new Set(setup && siteAt(setup.history, service.now())?.units.map(({ id }) => id));
  const unknown = units.find((unit) => !known.has(unit));
  if (unknown !== undefined)
    throw new Refusal('bad-configuration', `There is no unit "${unknown}" at this site.`);
}
