import type { FastifyInstance, FastifyRequest, RouteOptions } from 'fastify';
import { actionRow, isInScope, whyNot, type Action, type Actor, type WhyNot } from '../../shared/wire/may.ts';
import { SAYS, type Accounts, type Asked, type Asker } from '../accounts/accounts.ts';
import { isLoopback } from '../loopback.ts';
import { sessionIn } from './cookie.ts';
import { originOf } from './own-origin.ts';
import { Refusal } from './refusal.ts';

/**
 * The guard before every route of the API. Each route says which action it is (`config: { action }`); what the action asks of
 * role and reach is in the one table of shared/wire/may.ts. A site out of scope, named in path, query or body, reads as
 * not found; routes that find something by another id ask `refuseOutOfScope` themselves, and lists ask `sitesOf`.
 */
declare module 'fastify' {
  interface FastifyContextConfig {
    action?: Action;
    /** changes something though it is a GET */
    isChange?: boolean;
  }
  interface FastifyRequest {
    /** null: nobody has signed in, and the action is open to that */
    asker: Asker | null;
    /** whoever asks; on a route that is open to everybody there may be nobody: a refusal then */
    readonly actor: Actor;
  }
}

const NOT_PERMITTED: Readonly<Record<Exclude<WhyNot, 'not-signed-in'>, string>> = {
  'takes-a-person': 'It takes a person who is signed in: a token has no account of its own.',
  role: 'It takes a role that may.',
  'takes-all-sites': 'It takes somebody whose scope is every site.',
};

export function guard(app: FastifyInstance, accounts: Accounts): void {
  app.decorateRequest('asker', null);
  app.decorateRequest('actor', {
    getter(this: FastifyRequest): Actor {
      if (this.asker === null) throw new Refusal('not-signed-in', SAYS['sign-in']);
      return this.asker.actor;
    },
  });
  app.addHook('onRoute', demandAction);
  app.addHook('onRequest', (request, reply, done) => {
    // what one person was told lies in no cache for the next
    if (request.routeOptions.config.action !== undefined) void reply.header('cache-control', 'no-store');
    done();
  });
  app.addHook('onRequest', (request) => letIn(request, accounts));
  app.addHook('preHandler', (request, _, done) => {
    refuseOtherSites(request, [request.body]);
    done();
  });
}

/** What whoever hasn’t signed in may send, and what one’s own account takes. */
const SMALL_BYTES = 16 * 1024;

/** A route of the API that says no action isn't served at all. */
function demandAction(route: RouteOptions): void {
  const action = route.config?.action;
  if (action === undefined) {
    if (route.url.startsWith('/api/'))
      throw new Error(`${String(route.method)} ${route.url} names no action: config.action, one of may.ts.`);
    return;
  }
  const { reach } = actionRow(action);
  const security = reach === 'open' ? [] : [{ token: [] }, { session: [] }];
  if (reach === 'open' || reach === 'own') route.bodyLimit ??= SMALL_BYTES;
  route.schema = { security, 'x-action': action, ...route.schema } as NonNullable<RouteOptions['schema']>;
}

async function letIn(request: FastifyRequest, accounts: Accounts): Promise<void> {
  const { action } = request.routeOptions.config;
  if (action === undefined ? !request.url.startsWith('/api/') : isOpenHere(request, action)) return;
  const admission = await accounts.admit(askedBy(request));
  request.asker = 'asker' in admission ? admission.asker : null;
  refuseForeignPages(request);
  const why = whyOut(request.asker?.actor ?? null, action);
  // before the rest is looked at: what is wrong with a question tells nothing of another's site
  if (why === null) return refuseOtherSites(request, [request.params, request.query]);
  if (why === 'not-signed-in')
    throw new Refusal('not-signed-in', SAYS['why' in admission ? admission.why : 'sign-in'], [], {
      'www-authenticate': 'Bearer',
    });
  throw new Refusal('not-permitted', `You may not ${actionRow(action!).does}. ${NOT_PERMITTED[why]}`);
}

/** Whoever hasn’t signed in isn’t told either what there is not. */
function whyOut(actor: Actor | null, action: Action | undefined): WhyNot | null {
  if (action !== undefined) return whyNot(actor, action);
  return actor === null ? 'not-signed-in' : null;
}

/** Whoever reads the counters or asks for health on this machine isn't asked who they are. */
const isOpenHere = (request: FastifyRequest, action: Action): boolean =>
  action === 'ask-health' || (action === 'read-metrics' && isLoopback(request.ip));

export const askedBy = (request: FastifyRequest): Asked => ({
  authorization: request.headers.authorization,
  session: sessionIn(request.headers.cookie, request.headers.host),
  address: request.ip,
  host: request.headers.host,
  isForwarded: isForwarded(request.headers),
});

export const isForwarded = (headers: FastifyRequest['headers']): boolean =>
  headers['x-forwarded-for'] !== undefined || headers['forwarded'] !== undefined;

const SAFE = new Set(['GET', 'HEAD', 'OPTIONS']);
export const isSafe = (method: string): boolean => SAFE.has(method);

/**
 * What a browser sends along by itself (a cookie, or that it runs on this machine) shows nothing of who meant it: it has to
 * come from this page. A token is put into a request by whoever makes it.
 */
function refuseForeignPages(request: FastifyRequest): void {
  if (isSafe(request.method)) return;
  const kind = request.asker?.actor.kind;
  if (kind === 'token') return;
  const origin = originOf(request.headers);
  if (origin === 'own' || (origin === 'unsaid' && kind !== 'person')) return;
  throw new Refusal('not-permitted', 'That request didn’t come from this page, and was refused.');
}

/** Sites by the names under which routes take them. */
function refuseOtherSites(request: FastifyRequest, places: readonly unknown[]): void {
  for (const place of places) {
    const site = (place as { site?: unknown } | null | undefined)?.site;
    if (typeof site === 'string') refuseOutOfScope(request, site, `There is no site "${site}".`);
  }
}

/** `says`: what would be said if it didn’t exist at all. */
export function refuseOutOfScope(request: FastifyRequest, site: string, says: string): void {
  if (request.asker && !isInScope(request.asker.actor.sites, site)) throw new Refusal('not-found', says);
}

/** The sites that a list may tell of; null: all. */
export const sitesOf = (request: FastifyRequest): readonly string[] | null => {
  const { sites } = request.actor;
  return sites === 'all' ? null : sites;
};
