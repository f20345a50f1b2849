import type { FastifyReply } from 'fastify';
import type { Readable } from 'node:stream';
import Type from 'typebox';
import type { Instant } from '../../shared/base/instant.ts';
import {
  EXPORT_FORMATS,
  EXPORT_VERSION,
  eventsWriter,
  samplesWriter,
  type Exported,
  type ExportFormat,
  type ExportHead,
} from '../../shared/wire/export-rows.ts';
import { ImportAnswer, ImportAsk } from '../../shared/wire/import-wire.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Service } from '../service.ts';
import { eventsInOrder, exportFile } from '../transfer/export-file.ts';
import { samplesInOrder, type ExportedPoint } from '../transfer/samples-in-order.ts';
import { takeSamples } from '../transfer/take-samples.ts';
import type { App } from './app.ts';
import { sendFile } from './files.ts';
import { From, instantOrNull, Slug, stretchOf, To } from './query.ts';
import { Refusal } from './refusal.ts';
import { setupOf } from './site-routes.ts';

/** The record and what was concluded from it as files, and samples back from them. */
export function transferRoutes(app: App, service: Service): void {
  exportRoutes(app, service);
  importRoute(app, service);
}

const AsFile = Type.String({ description: 'CSV (RFC 4180), or NDJSON: one JSON document a line' });
const Asked = {
  site: Slug,
  from: From,
  to: To,
  format: Type.Optional(Type.Enum([...EXPORT_FORMATS], { default: 'csv' })),
};

function exportRoutes(app: App, service: Service): void {
  const config = { action: 'export-record' } as const;
  const response = { 200: AsFile, 400: Problem, 404: Problem };
  const samples = {
    querystring: Type.Object({
      ...Asked,
      device: Type.Optional(Slug),
      signal: Type.Optional(Type.String({ maxLength: 63 })),
    }),
    response,
  };
  app.get('/export/samples', { schema: samples, config }, async ({ query }, reply) => {
    const { ids } = await setupOf(service, query.site);
    const points = pointsOf(ids.points, query);
    const { from, to } = rangeOf(query);
    const { format = 'csv' } = query;
    const rows = samplesInOrder(service.database, points, { from: from ?? -Infinity, to: to ?? Infinity });
    const writer = samplesWriter(format, headOf('samples', query.site, { from, to }));
    return send(reply, `${query.site}-samples`, format, exportFile(writer, rows));
  });

  const events = { querystring: Type.Object(Asked), response };
  app.get('/export/events', { schema: events, config }, async ({ query }, reply) => {
    await setupOf(service, query.site);
    const range = rangeOf(query);
    const { format = 'csv' } = query;
    const writer = eventsWriter(format, headOf('events', query.site, range));
    const rows = eventsInOrder(service.database, query.site, range);
    return send(reply, `${query.site}-events`, format, exportFile(writer, rows));
  });
}

const TYPES = { csv: 'text/csv; charset=utf-8', ndjson: 'application/x-ndjson; charset=utf-8' } as const;

const send = (reply: FastifyReply, name: string, format: ExportFormat, file: Readable): FastifyReply =>
  sendFile(reply, `${name}.${format}`, TYPES[format], file);

function importRoute(app: App, service: Service): void {
  const schema = { body: ImportAsk, response: { 200: ImportAnswer, 400: Problem, 404: Problem } };
  app.post('/import/samples', { schema, config: { action: 'import-samples' } }, async ({ body, audited }) => {
    const readSetup = () => setupOf(service, body.site);
    const answer = await takeSamples(service.database, { ask: body, now: service.now(), readSetup });
    if (answer.changed > 0) service.follower?.nudge();
    audited.detail = { taken: answer.taken, changed: answer.changed, faults: answer.faults.length };
    return answer;
  });
}

interface Range {
  readonly from: Instant | null;
  readonly to: Instant | null;
}

function rangeOf({ from, to }: { from?: string; to?: string }): Range {
  if (from !== undefined && to !== undefined) return stretchOf({ from, to });
  return { from: instantOrNull('from', from), to: instantOrNull('to', to) };
}

const headOf = (holds: Exported, site: string, { from, to }: Range): ExportHead => ({
  holds,
  version: EXPORT_VERSION,
  site,
  from: wireInstant(from),
  to: wireInstant(to),
});

/** In order of their names, also those that the configuration no longer has. */
function pointsOf(
  ids: ReadonlyMap<string, number>,
  { site, device, signal }: { site: string; device?: string; signal?: string },
): ExportedPoint[] {
  const points = [...ids]
    .map(([name, id]) => ({ name, id, parts: name.split('/') }))
    .filter(({ parts }) => (device ?? parts[0]) === parts[0] && (signal ?? parts[1]) === parts[1])
    .sort((a, b) => (a.name < b.name ? -1 : 1));
  if (points.length > 0 || (device === undefined && signal === undefined)) return points;
  throw new Refusal('not-found', `There is no point "${device ?? '…'}/${signal ?? '…'}" at "${site}".`);
}
