import type { FastifyReply, FastifyRequest } from 'fastify';
import Type from 'typebox';
import type { Queries } from '../../db/pool.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import type { PowerEvent } from '../../shared/review/group.ts';
import { csvOf } from '../../shared/wire/csv.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { PowerEventList, ReviewAnswer, SiteReviewAnswer } from '../../shared/wire/review-answer.ts';
import {
  eventsTable,
  SITE_TABLES,
  sitesTable,
  siteTable,
  type CsvTable,
} from '../../shared/wire/review-tables.ts';
import { choice } from '../../shared/wire/schema.ts';
import { SITES_KEPT, type Setup } from '../follow/setup.ts';
import { fleetAnswer, itemOf, siteAnswer } from '../review/answers.ts';
import { findPowerEvent, listPowerEvents } from '../review/find-event.ts';
import { printedFleet, printedSite, readPrintedChart } from '../review/print-review.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { Csv, Pdf, sendCsv, sendPdf } from './files.ts';
import { Cursor, From, instantOrNull, isByStart, limit, readCursor, Slug, To, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';

/** Power events and their reviews (contract 5): as JSON, as CSV, and on paper. */
const SEE = { action: 'see-sites' } as const;
/** asked for without a beginning: so much */
const STANDARD = seconds(92 * 86_400);
const LONGEST = seconds(400 * 86_400);
const One = Type.Object({ id: Type.String({ maxLength: 100 }) });
const OneSite = Type.Object({ id: Type.String({ maxLength: 100 }), site: Slug });
const no = { 400: Problem, 404: Problem };

export function reviewRoutes(app: App, service: Service): void {
  listRoutes(app, service);
  fleetRoutes(app, service);
  siteReviewRoutes(app, service);
}

const listQuery = Type.Object({
  site: Type.Optional(Slug),
  from: From,
  to: To,
  cursor: Cursor,
  limit: limit(50, 500),
  dips: Type.Optional(choice('1')),
});

function listRoutes(app: App, service: Service): void {
  const list = { querystring: listQuery, response: { 200: PowerEventList, ...no } };
  app.get('/power-events', { schema: list, config: SEE }, (request) =>
    listed(service, request, request.query as ListQuery),
  );
  const csv = { querystring: listQuery, response: { 200: Csv, ...no } };
  app.get('/power-events.csv', { schema: csv, config: SEE }, async (request, reply) => {
    const { items } = await listed(service, request, request.query as ListQuery);
    return sendTable(reply, 'power-events', eventsTable(items));
  });
}

interface ListQuery {
  readonly site?: string;
  readonly from?: string;
  readonly to?: string;
  readonly cursor?: string;
  readonly limit?: number;
  readonly dips?: '1';
}

async function listed(service: Service, request: FastifyRequest, query: ListQuery): Promise<PowerEventList> {
  const now = service.now();
  const to = instantOrNull('to', query.to) ?? now;
  const from = instantOrNull('from', query.from) ?? to - STANDARD;
  const fault = (pointer: string, message: string) =>
    new Refusal('bad-request', message, [{ pointer, message }]);
  if (from >= to) throw fault('/to', 'Give an instant after "from".');
  if (to - from > LONGEST) throw fault('/from', 'Give a stretch of 400 days at most.');
  const after = readCursor(query.cursor, isByStart);
  return inSnapshot(service.database, async (queries) => {
    const setups = await visible(service, queries, request);
    const { events, whole } = await listPowerEvents(queries, service.setups, { from, to });
    const seen = events
      .map((event) => inScope(event, setups))
      .filter(
        ({ sites }) => sites.length > 0 && (!query.site || sites.some(({ site }) => site === query.site)),
      );
    const dips = seen.filter(({ kind }) => kind === 'starting-dip').length;
    const count = query.limit ?? 50;
    const asked = seen
      .filter(({ kind }) => query.dips === '1' || kind !== 'starting-dip')
      .filter(
        ({ start, id }) =>
          !after || start.latest < after.start || (start.latest === after.start && id > after.id),
      );
    const items = asked.slice(0, count);
    const last = items.at(-1);
    return {
      items: items.map((event) => itemOf(event, setups)),
      cursor: asked.length > count && last ? writeCursor({ start: last.start.latest, id: last.id }) : null,
      whole,
      startingDips: dips,
      serverTime: formatInstant(now),
    };
  });
}

function fleetRoutes(app: App, service: Service): void {
  const look = { params: One, response: { 200: ReviewAnswer, ...no } };
  app.get('/power-events/:id/review', { schema: look, config: SEE }, (request) =>
    fleet(service, request, request.params.id),
  );
  const csv = { params: One, response: { 200: Csv, ...no } };
  app.get('/power-events/:id/review.csv', { schema: csv, config: SEE }, async (request, reply) =>
    sendTable(reply, 'review-sites', sitesTable(await fleet(service, request, request.params.id))),
  );
  const pdf = { params: One, response: { 200: Pdf, ...no } };
  app.get('/power-events/:id/review.pdf', { schema: pdf, config: SEE }, async (request, reply) => {
    const answer = await fleet(service, request, request.params.id);
    return sendPdf(reply, 'review', printedFleet(answer, linkOf(service, `power-events/${answer.id}`)));
  });
}

const fleet = (service: Service, request: FastifyRequest, id: string): Promise<ReviewAnswer> =>
  withEvent(service, request, id, (queries, event, setups, now) =>
    fleetAnswer(queries, event, [...setups.values()], now),
  );

function siteReviewRoutes(app: App, service: Service): void {
  const look = { params: OneSite, response: { 200: SiteReviewAnswer, ...no } };
  app.get('/power-events/:id/sites/:site/review', { schema: look, config: SEE }, (request) =>
    ofSite(service, request, request.params, (_queries, answer) => Promise.resolve(answer)),
  );
  const csv = {
    params: OneSite,
    querystring: Type.Object({ table: choice(...SITE_TABLES) }),
    response: { 200: Csv, ...no },
  };
  app.get(
    '/power-events/:id/sites/:site/review.csv',
    { schema: csv, config: SEE },
    async (request, reply) => {
      const { table } = request.query;
      const found = await ofSite(service, request, request.params, (_queries, answer) =>
        Promise.resolve(siteTable(answer, table)),
      );
      return sendTable(reply, `review-${request.params.site}-${table}`, found);
    },
  );
  const pdf = { params: OneSite, response: { 200: Pdf, ...no } };
  app.get(
    '/power-events/:id/sites/:site/review.pdf',
    { schema: pdf, config: SEE },
    async (request, reply) => {
      const printed = await ofSite(service, request, request.params, async (queries, answer, setup) => {
        const link = linkOf(service, `power-events/${answer.id}/${answer.site}`);
        return printedSite(answer, await readPrintedChart(queries, setup, answer), link);
      });
      return sendPdf(reply, `review-${request.params.site}`, printed);
    },
  );
}

const EARLIER = seconds(400 * 86_400);

function ofSite<T>(
  service: Service,
  request: FastifyRequest,
  { id, site }: { readonly id: string; readonly site: string },
  work: (queries: Queries, answer: SiteReviewAnswer, setup: Setup) => Promise<T>,
): Promise<T> {
  return withEvent(service, request, id, async (queries, event, setups, now) => {
    const setup = setups.get(site);
    const earlier = await listPowerEvents(
      queries,
      service.setups,
      {
        from: event.start.earliest - EARLIER,
        to: event.start.earliest,
      },
      site,
    );
    const before = earlier.events.find((one) => one.id !== event.id && one.kind === event.kind) ?? null;
    const answer = setup ? await siteAnswer(queries, { event, earlier: before, setup }, now) : null;
    if (!answer) throw new Refusal('not-found', `That power event didn’t reach a site "${site}".`);
    return work(queries, answer, setup!);
  });
}

type WithEvent<T> = (
  queries: Queries,
  event: PowerEvent,
  setups: ReadonlyMap<string, Setup>,
  now: Instant,
) => Promise<T>;

function withEvent<T>(service: Service, request: FastifyRequest, id: string, work: WithEvent<T>): Promise<T> {
  const now = service.now();
  return inSnapshot(service.database, async (queries) => {
    const setups = await visible(service, queries, request);
    const found = await findPowerEvent(queries, service.setups, id, now);
    const event = found && inScope(found, setups);
    if (!event || event.sites.length === 0)
      throw new Refusal(
        'not-found',
        `There is no power event "${id}": no event by that id, or better data took it back.`,
      );
    return work(queries, event, setups, now);
  });
}

/** Setups of the sites that the reader may see. */
async function visible(
  service: Service,
  queries: Queries,
  request: FastifyRequest,
): Promise<Map<string, Setup>> {
  const setups = await service.setups.readMany(queries, '', SITES_KEPT, sitesOf(request));
  return new Map(setups.map((setup) => [setup.id, setup]));
}

/** Of a power event what happened at those sites; its name stays that of the whole. */
const inScope = (event: PowerEvent, setups: ReadonlyMap<string, Setup>): PowerEvent => ({
  ...event,
  sites: event.sites.filter(({ site }) => setups.has(site)),
});

/** Where the page keeps it. */
const linkOf = ({ notices }: Service, path: string): string => `${notices.publicUrl ?? '/'}${path}`;

const sendTable = (reply: FastifyReply, name: string, { columns, rows }: CsvTable): FastifyReply =>
  sendCsv(reply, name, csvOf(columns, rows));
