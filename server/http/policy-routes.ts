import Type from 'typebox';
import { deletePolicy, putPolicy, readPolicies, type StoredPolicy } from '../../db/policies.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { planOf } from '../../shared/people/escalation.ts';
import { Uuid } from '../../shared/wire/account.ts';
import { PolicyAnswer, PolicyAsk, PolicyList } from '../../shared/wire/on-call-answer.ts';
import { parsePolicy, type PolicyDocument } from '../../shared/wire/on-call-document.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { Service } from '../service.ts';
import type { App } from './app.ts';
import { Refusal } from './refusal.ts';

/** Policies: whom to ask, in which order, how long to wait, and for which sites. */
const KEEP = { action: 'keep-on-call' } as const;
const params = Type.Object({ policy: Uuid });

export function policyRoutes(app: App, { database, now }: Service): void {
  app.get(
    '/policies',
    { schema: { response: { 200: PolicyList } }, config: { action: 'see-on-call' } },
    async () => ({ items: (await readPolicies(database)).map(wirePolicy), cursor: null }),
  );
  const put = async (id: string | null, body: Type.Static<typeof PolicyAsk>, by: string) => {
    const parsed = parsePolicy(body.document);
    if (!parsed.ok) throw new Refusal('bad-request', 'The policy has faults.', parsed.faults);
    const stored = await database.transaction({ name: 'put-policy' }, (queries) =>
      putPolicy(queries, { id, ...body, now: now(), by }),
    );
    if (stored !== null) return wirePolicy(stored);
    throw id === null
      ? new Refusal('conflict', `There is a policy “${body.name}” already.`)
      : new Refusal('not-found', 'There is no such policy, or another has that name.');
  };
  const refusals = { 400: Problem, 404: Problem, 409: Problem };
  const make = { body: PolicyAsk, response: { 201: PolicyAnswer, ...refusals } };
  app.post('/policies', { schema: make, config: KEEP }, async ({ body, actor }, reply) =>
    reply.code(201).send(await put(null, body, actor.name)),
  );
  const change = { params, body: PolicyAsk, response: { 200: PolicyAnswer, ...refusals } };
  app.put('/policies/:policy', { schema: change, config: KEEP }, (request) =>
    put(request.params.policy, request.body, request.actor.name),
  );
  const remove = { params, response: { 204: Type.Null(), 404: Problem } };
  app.delete('/policies/:policy', { schema: remove, config: KEEP }, async (request, reply) => {
    if (!(await deletePolicy(database, request.params.policy)))
      throw new Refusal('not-found', 'There is no such policy.');
    return reply.code(204).send(null);
  });
}

function wirePolicy(stored: StoredPolicy): PolicyAnswer {
  const document = stored.document as PolicyDocument;
  const parsed = parsePolicy(document);
  const plan = parsed.ok ? planOf(parsed.value.policy) : { pages: [], exhausted: 0 };
  return {
    id: stored.id,
    name: stored.name,
    document,
    isDefault: stored.isDefault,
    sites: [...stored.sites],
    changedAt: formatInstant(stored.changedAt),
    changedBy: stored.changedBy,
    pages: [...plan.pages],
    exhausted: plan.exhausted,
  };
}
