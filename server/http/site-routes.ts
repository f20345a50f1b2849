import Type from 'typebox';
import { deleteSite, putSeenSite, putSite, type SiteChange, type SiteChanged } from '../../db/sites.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import { parseConfiguration, SiteDocument } from '../../shared/wire/configuration.ts';
import { meetsSounder } from '../../shared/wire/sounder-topics.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { SiteHistoryAnswer, SiteList, SiteSaved, type SiteItem } from '../../shared/wire/service.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Setup } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { Cursor, instantOf, limit, readCursor, SiteParameter, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';

/** who puts the simulated buildings’ documents */
export const DEMONSTRATION = 'demonstration';

const SEE = { action: 'see-sites' } as const;
const CHANGE = { action: 'change-sites' } as const;

/** Sites and their configuration as history (contract section 3). */
export function siteRoutes(app: App, service: Service): void {
  listRoute(app, service);
  readRoutes(app, service);
  writeRoute(app, service);
  deleteRoute(app, service);
}

function listRoute(app: App, service: Service): void {
  const list = {
    querystring: Type.Object({ cursor: Cursor, limit: limit(100, 1000) }),
    response: { 200: SiteList, 400: Problem },
  };
  app.get('/sites', { schema: list, config: SEE }, async (request) => {
    const { query } = request;
    const count = query.limit ?? 100;
    const after = readCursor(query.cursor, (place) => typeof place === 'string') ?? '';
    const setups = await inSnapshot(service.database, (queries) =>
      service.setups.readMany(queries, after, count + 1, sitesOf(request)),
    );
    const shown = setups.slice(0, count);
    return {
      items: shown.map((setup) => itemOf(setup, service.now())),
      cursor: setups.length > count ? writeCursor(shown.at(-1)!.id) : null,
    };
  });
}

function readRoutes(app: App, service: Service): void {
  const read = {
    params: SiteParameter,
    querystring: Type.Object({ at: Type.Optional(Type.String({ maxLength: 40 })) }),
    response: { 200: SiteDocument, 400: Problem, 404: Problem },
  };
  app.get('/sites/:site', { schema: read, config: SEE }, async ({ params, query }) => {
    const setup = await setupOf(service, params.site);
    return documentAt(setup, atOf(query.at, service.now()));
  });

  const versions = { params: SiteParameter, response: { 200: SiteHistoryAnswer, 404: Problem } };
  app.get('/sites/:site/versions', { schema: versions, config: SEE }, async ({ params }) => {
    const { id, revision, documents } = await setupOf(service, params.site);
    const items = documents.map(({ from, putAt, putBy }) => ({
      from: wireInstant(from) ?? 'always',
      putAt: wireInstant(putAt ?? null) ?? '',
      putBy: putBy ?? '',
    }));
    return { id, revision, versions: items };
  });
}

function writeRoute(app: App, service: Service): void {
  const write = {
    params: SiteParameter,
    querystring: Type.Object({
      from: Type.Optional(Type.String({ maxLength: 40, description: 'an instant, `always` or `now`' })),
      seen: Type.Optional(
        Type.Integer({
          minimum: 0,
          description:
            'the revision at which the site was looked at (0: there was none); refused if it has changed since',
        }),
      ),
    }),
    body: SiteDocument,
    response: { 200: SiteSaved, 201: SiteSaved, 400: Problem, 409: Problem, 422: Problem },
  };
  // the document is checked by parseConfiguration, which names every fault
  app.put(
    '/sites/:site',
    { schema: write, config: CHANGE, validatorCompiler: accepting },
    async ({ params, query, body, actor, audited }, reply) => {
      const { site } = params;
      const parsed = parseConfiguration(site, body);
      if (!parsed.ok)
        throw new Refusal('bad-configuration', `${site}: the document was refused whole.`, parsed.faults);
      refuseSounderTopics(service.sounderRoot, site, body);
      const from = query.from === undefined ? null : fromOf(query.from, service.now());
      const change = { site, document: body, from, now: service.now(), by: actor.name };
      const saved = await save(service, change, seenOf(query.seen));
      service.follower?.nudge();
      audited.detail = { from: wireInstant(saved.from) ?? 'always', revision: saved.revision };
      const answer = { id: site, from: wireInstant(saved.from) ?? 'always', revision: saved.revision };
      return reply.code(saved.created ? 201 : 200).send(answer);
    },
  );
}

/** As it came: this route’s queries aren’t checked by their schema. */
function seenOf(seen: unknown): number | undefined {
  if (seen === undefined) return undefined;
  if (/^\d{1,15}$/.test(String(seen))) return Number(seen);
  throw new Refusal('bad-request', '“seen” isn’t a revision.', [
    { pointer: '/seen', message: 'Give the revision that /versions tells, or leave it out.' },
  ]);
}

async function save(
  { database }: Service,
  change: SiteChange,
  seen: number | undefined,
): Promise<SiteChanged> {
  if (seen === undefined) return putSite(database, change);
  const saved = await putSeenSite(database, change, seen);
  if (saved) return saved;
  const says =
    seen === 0
      ? `There is a site "${change.site}" already: take another id.`
      : `${change.site} was saved by somebody else meanwhile: look at what they changed, then save again.`;
  throw new Refusal('conflict', says);
}

function deleteRoute(app: App, service: Service): void {
  const schema = { params: SiteParameter, response: { 204: Type.Null(), 404: Problem } };
  app.delete('/sites/:site', { schema, config: CHANGE }, async ({ params }, reply) => {
    if (!(await deleteSite(service.database, params.site))) throw notFound(params.site);
    return reply.code(204).send(null);
  });
}

/** What is told to stack lights isn't telemetry, and nothing of a unit listens there. */
function refuseSounderTopics(root: string | null, site: string, document: unknown): void {
  const met = root === null ? null : meetsSounder(root, document);
  if (met === null) return;
  const message = `A point listens to ${met}: topics under ${root} are those of stack lights (SOUNDER_ROOT). Take another.`;
  throw new Refusal('bad-configuration', `${site}: the document was refused whole.`, [
    { pointer: '', message },
  ]);
}

/** Everything is looked at inside the route. */
const accepting = () => (value: unknown) => ({ value });

const notFound = (site: string): Refusal => new Refusal('not-found', `There is no site "${site}".`);

export async function setupOf(service: Service, site: string): Promise<Setup> {
  const setup = await service.setups.read(service.database, site);
  if (!setup) throw notFound(site);
  return setup;
}

export function fromOf(text: string, now: Instant): Instant {
  if (text === 'always') return -Infinity;
  return text === 'now' ? now : instantOf('from', text);
}

const atOf = (text: string | undefined, now: Instant): Instant =>
  text === undefined ? now : fromOf(text, now);

export function documentAt({ documents }: Setup, at: Instant): SiteDocument {
  const found = documents.findLast(({ from }) => from <= at) ?? documents[0]!;
  return found.document as SiteDocument;
}

function itemOf(setup: Setup, now: Instant): SiteItem {
  const site = siteAt(setup.history, now)!;
  return {
    id: setup.id,
    name: site.name,
    timeZone: site.timeZone,
    units: site.units.length,
    spaces: site.spaces.length,
    panels: site.panels.length,
    demonstration: setup.documents.every(({ putBy }) => putBy === DEMONSTRATION),
  };
}
