import Type from 'typebox';
import { readCredentials, revokeCredential } from '../../db/gateway-credentials.ts';
import { readSiteHistory } from '../../db/site-history.ts';
import { Uuid } from '../../shared/wire/account.ts';
import {
  CredentialAsk,
  CredentialMade,
  GatewayAccess,
  MosquittoFiles,
} from '../../shared/wire/gateway-access.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { gatewayTopics } from '../../shared/telemetry/gateway-topics.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import { credentialAnswer, namedOfAll, readAccess, readSitesNow } from '../gateways/access.ts';
import { makeCredential } from '../gateways/make-credential.ts';
import { mosquittoFiles } from '../gateways/mosquitto-files.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import type { App } from './app.ts';
import { Slug } from './query.ts';
import { Refusal } from './refusal.ts';

/** Gateways at the broker: what each shows itself by, what it may publish, and who was turned away. */
export function gatewayRoutes(app: App, service: Service): void {
  lookRoute(app, service);
  makeRoute(app, service);
  revokeRoute(app, service);
  filesRoute(app, service);
}

const ofSite = Type.Object({ site: Slug });
const ofGateway = Type.Object({ site: Slug, gateway: Slug });
const keeping = { action: 'keep-gateways' } as const;

function lookRoute(app: App, { database, broker, now }: Service): void {
  const schema = { params: ofSite, response: { 200: GatewayAccess, 404: Problem } };
  app.get('/sites/:site/gateways', { schema, config: { action: 'see-gateways' } }, async (request) => {
    const { site } = request.params;
    const ask = { site, broker, now: now(), strangers: request.actor.sites === 'all' };
    const access = await inSnapshot(database, (queries) => readAccess(queries, ask));
    if (access === null) throw new Refusal('not-found', `There is no site "${site}".`);
    return access;
  });
}

function makeRoute(app: App, { database, now }: Service): void {
  const schema = {
    params: ofGateway,
    body: CredentialAsk,
    response: { 201: CredentialMade, 400: Problem, 404: Problem, 409: Problem },
  };
  app.post(
    '/sites/:site/gateways/:gateway/credentials',
    { schema, config: keeping },
    async (request, reply) => {
      const { site, gateway } = request.params;
      const at = now();
      const made = await database.transaction({ name: 'make-credential' }, async (queries) => {
        const present = (await readSiteHistory(queries, site)).at(-1)?.site;
        if (!present?.gateways.some(({ id }) => id === gateway))
          throw new Refusal('not-found', `The site "${site}" has no gateway "${gateway}".`);
        return makeCredential(queries, { ...request.body, site, gateway, by: request.actor.name, now: at });
      });
      if (!made.ok) throw new Refusal(made.code, made.says, [{ pointer: made.pointer, message: made.says }]);
      const { row, password } = made;
      const { kind, username } = row;
      request.audited.detail = { gateway, kind, username, replaces: request.body.replaces ?? null };
      return reply.code(201).send({ credential: credentialAnswer(row, at), password });
    },
  );
}

function revokeRoute(app: App, { database, now }: Service): void {
  const params = Type.Object({ site: Slug, gateway: Slug, credential: Uuid });
  const schema = { params, response: { 204: Type.Null(), 404: Problem } };
  const path = '/sites/:site/gateways/:gateway/credentials/:credential';
  app.delete(path, { schema, config: keeping }, async (request, reply) => {
    const { site, gateway, credential } = request.params;
    request.audited.detail = { gateway, credential };
    if (!(await revokeCredential(database, { site, gateway, id: credential, now: now() })))
      throw new Refusal('not-found', 'There is no such credential, or it is revoked already.');
    return reply.code(204).send(null);
  });
}

function filesRoute(app: App, { database, broker, now }: Service): void {
  const schema = {
    querystring: Type.Object({
      'ingest-user': Type.Optional(Type.String({ pattern: '^[A-Za-z0-9._@-]{1,128}$' })),
    }),
    response: { 200: MosquittoFiles, 400: Problem },
  };
  app.get('/broker/mosquitto', { schema, config: { action: 'read-broker-files' } }, async ({ query }) =>
    inSnapshot(database, async (queries) => {
      const { root } = broker;
      const named = namedOfAll(await readSitesNow(queries));
      const { nextChangeAt, ...files } = mosquittoFiles(
        await readCredentials(queries, null),
        (site, gateway) => gatewayTopics({ root, site, gateway }, named),
        { now: now(), root, ingestUser: query['ingest-user'] ?? INGEST_USER },
      );
      return { ...files, nextChangeAt: wireInstant(nextChangeAt) };
    }),
  );
}

const INGEST_USER = 'holdoff-ingest';
