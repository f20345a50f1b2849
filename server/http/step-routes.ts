import Type from 'typebox';
import { ownEscalation, readEscalation } from '../../db/escalations.ts';
import { EscalationAnswer, OwnerStep } from '../../shared/wire/on-call-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { Service } from '../service.ts';
import { refuseOutOfScope } from './access.ts';
import type { App } from './app.ts';
import { wireEscalation } from './on-call-routes.ts';
import { Refusal } from './refusal.ts';

/**
 * The next step of whoever has accepted an alarm (handbook 7): it puts off the question whether they are still on it. "On
 * site" begins the two hours after which they are asked whether they are all right; "left" ends them. Whoever takes a step
 * has it from then on.
 */
export function stepRoutes(app: App, { database, now }: Service): void {
  const schema = {
    params: Type.Object({ id: Type.String({ maxLength: 100 }) }),
    body: Type.Object({ step: OwnerStep }),
    response: { 200: EscalationAnswer, 404: Problem, 409: Problem },
  };
  const config = { action: 'answer-alarms' } as const;
  app.post('/alarms/:id/step', { schema, config }, async (request) => {
    const { id } = request.params;
    const thereIsNone = `Nobody is told of an alarm "${id}".`;
    const found = await readEscalation(database, id);
    if (found === null) throw new Refusal('not-found', thereIsNone);
    refuseOutOfScope(request, found.site, thereIsNone);
    if (found.state !== 'owned')
      throw new Refusal('not-now', 'Nobody has accepted it, or it is over: accept it first.');
    const { kind, id: person, name } = request.actor;
    const place = request.body.step === 'on-site' ? 'on-site' : 'accepted';
    const owner = kind === 'person' ? person : name;
    await database.transaction({ name: 'step' }, (queries) =>
      ownEscalation(queries, { alarm: id, owner, place }, now()),
    );
    return wireEscalation((await readEscalation(database, id))!);
  });
}
