import type { FastifyInstance, FastifyRequest } from 'fastify';
import { answerAudit, forgetAudit, insertAudit, type AuditActor } from '../../db/audit.ts';
import type { Action } from '../../shared/wire/may.ts';
import type { Accounts } from '../accounts/accounts.ts';
import { isSafe } from './access.ts';

/**
 * The audit trail: whatever may change something is written down before it is done, and completed with its answer. Where the
 * row can't be written, nothing is done. To be made after the guard, whose refusals are written down too where it knows
 * who was refused.
 */
declare module 'fastify' {
  interface FastifyRequest {
    /** what this request adds to its row: never a secret */
    audited: { id: number | null; detail: unknown; actor: AuditActor | null };
  }
}

/** Asked by POST, for their bodies: a secret that belongs in no address, a long question. */
const CHANGES_NOTHING: ReadonlySet<Action> = new Set<Action>([
  'look-at-link',
  'try-settings',
  'look-into-recordings',
]);

const NOBODY: AuditActor = { kind: 'nobody', id: '', name: '' };

export function keepAudit(app: FastifyInstance, { database, now }: Accounts): void {
  const write = async (request: FastifyRequest) => {
    const { action, isChange = !isSafe(request.method) } = request.routeOptions.config;
    if (action === undefined || !isChange || CHANGES_NOTHING.has(action)) return;
    if (request.audited.id !== null) return;
    request.audited.id = await insertAudit(database, {
      at: now(),
      actor: actorOf(request) ?? NOBODY,
      address: request.ip,
      action,
      method: request.method,
      path: request.url.split('?')[0]!,
      site: siteOf(request),
    });
  };
  app.addHook('onRequest', (request, _, done) => {
    request.audited = { id: null, detail: null, actor: null };
    done();
  });
  app.addHook('preHandler', (request) => write(request));
  app.addHook('onError', async (request) => {
    if (request.asker)
      await write(request).catch((error: unknown) => request.log.error({ err: error }, FAILED));
  });
  app.addHook('onSend', async (request, reply) => {
    const { id, detail, actor } = request.audited ?? {};
    if (id === null || id === undefined) return;
    const done =
      reply.statusCode === TOO_MANY && !request.asker
        ? forgetAudit(database, id) // who knocks without end fills no trail
        : answerAudit(database, id, { status: reply.statusCode, detail, actor });
    await done.catch((error: unknown) => request.log.error({ err: error }, FAILED));
  });
}

const TOO_MANY = 429;
const FAILED = 'a row of the audit trail couldn’t be completed';

function actorOf(request: FastifyRequest): AuditActor | null {
  if (request.asker === null) return null;
  const { kind, id, name } = request.asker.actor;
  return { kind, id, name };
}

function siteOf(request: FastifyRequest): string | null {
  for (const place of [request.params, request.query, request.body]) {
    const site = (place as { site?: unknown } | null | undefined)?.site;
    if (typeof site === 'string') return site.slice(0, 100);
  }
  return null;
}
