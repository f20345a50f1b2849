import type { FastifyRequest } from 'fastify';
import Type from 'typebox';
import { Problem } from '../../shared/wire/problem.ts';
import { ReplayAnswer } from '../../shared/wire/replay-answer.ts';
import { ReplayAsk } from '../../shared/wire/replay-ask.ts';
import type { Replays } from '../replay/replays.ts';
import { refuseOutOfScope } from './access.ts';
import type { App } from './app.ts';
import { Refusal } from './refusal.ts';

const config = { action: 'try-settings' } as const;

/** A stretch of history run again under other settings: asked, looked after, taken back. Nothing stored changes. */
export function replayRoutes(app: App, replays: Replays): void {
  const ask = {
    body: ReplayAsk,
    response: { 202: ReplayAnswer, 400: Problem, 404: Problem, 422: Problem, 429: Problem },
  };
  app.post('/replay', { schema: ask, config }, async ({ body }, reply) => {
    const answer = await replays.ask(body);
    return reply.code(202).header('location', `/api/replay/${answer.id}`).send(answer);
  });

  const params = Type.Object({ id: Type.String({ maxLength: 100 }) });
  const look = { params, response: { 200: ReplayAnswer, 404: Problem } };
  app.get('/replay/:id', { schema: look, config }, async (request) => {
    return foundIn(replays, request);
  });

  const cancel = { params, response: { 204: Type.Null(), 404: Problem } };
  app.delete('/replay/:id', { schema: cancel, config }, async (request, reply) => {
    replays.cancel(foundIn(replays, request).id);
    return reply.code(204).send(null);
  });
}

/** A replay of a site out of scope isn’t there. */
function foundIn(replays: Replays, request: FastifyRequest): ReplayAnswer {
  const { id } = request.params as { id: string };
  const answer = replays.read(id);
  if (!answer) throw notFound(id);
  refuseOutOfScope(request, answer.asked.site, notFound(id).message);
  return answer;
}

const notFound = (id: string): Refusal =>
  new Refusal('not-found', `There is no replay "${id}": they are kept for half an hour. Ask it again.`);
