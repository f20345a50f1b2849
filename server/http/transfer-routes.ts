import type { FastifyReply } from 'fastify';
import type { Readable } from 'node:stream';
import Type from 'typebox';
import type { Queries } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import {
  EXPORT_FORMATS,
  EXPORT_VERSION,
  eventsWriter,
  samplesWriter,
  type Exported,
  type ExportFormat,
  type ExportHead,
  type ExportWriter,
} from '../../shared/wire/export-rows.ts';
import {
  ImportAnswer,
  ImportAsk,
  IntervalImportAsk,
  WaveformImportAsk,
} from '../../shared/wire/import-wire.ts';
import { intervalsWriter } from '../../shared/wire/interval-rows.ts';
import { waveformsWriter } from '../../shared/wire/waveform-rows.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Service } from '../service.ts';
import { eventsInOrder, exportFile } from '../transfer/export-file.ts';
import { samplesInOrder, type ExportedPoint } from '../transfer/samples-in-order.ts';
import { intervalsInOrder, waveformsInOrder } from '../transfer/points-in-order.ts';
import { judgeIntervals, judgeWaveforms } from '../transfer/take-beside.ts';
import { takeRows, type Taking } from '../transfer/take-rows.ts';
import { judgeSamples } from '../transfer/take-samples.ts';
import type { App } from './app.ts';
import { sendFile } from './files.ts';
import { From, instantOrNull, Slug, stretchOf, To } from './query.ts';
import { Refusal } from './refusal.ts';
import { setupOf } from './site-routes.ts';

/** The record and what was concluded from it as files, and samples back from them. */
export function transferRoutes(app: App, service: Service): void {
  exportRoutes(app, service);
  importRoutes(app, service);
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
  const querystring = Type.Object({
    ...Asked,
    device: Type.Optional(Slug),
    signal: Type.Optional(Type.String({ maxLength: 63 })),
  });
  const schema = { querystring, response };
  app.get('/export/samples', { schema, config }, async ({ query }, reply) =>
    send(reply, await rowsOut(query, { holds: 'samples', writerOf: samplesWriter, rowsOf: samplesInOrder })),
  );
  app.get('/export/intervals', { schema, config }, async ({ query }, reply) =>
    send(
      reply,
      await rowsOut(query, { holds: 'intervals', writerOf: intervalsWriter, rowsOf: intervalsInOrder }),
    ),
  );
  app.get('/export/waveforms', { schema, config }, async ({ query }, reply) =>
    send(
      reply,
      await rowsOut(query, { holds: 'waveforms', writerOf: waveformsWriter, rowsOf: waveformsInOrder }),
    ),
  );

  async function rowsOut<Row>(
    query: Type.Static<typeof querystring>,
    { holds, writerOf, rowsOf }: RowsOut<Row>,
  ): Promise<FileOut> {
    const { ids } = await setupOf(service, query.site);
    const points = pointsOf(ids.points, query);
    const { from, to } = rangeOf(query);
    const { format = 'csv' } = query;
    const rows = rowsOf(service.database, points, { from: from ?? -Infinity, to: to ?? Infinity });
    const writer = writerOf(format, headOf(holds, query.site, { from, to }));
    return { name: `${query.site}-${holds}`, format, file: exportFile(writer, rows) };
  }

  const events = { querystring: Type.Object(Asked), response };
  app.get('/export/events', { schema: events, config }, async ({ query }, reply) => {
    await setupOf(service, query.site);
    const range = rangeOf(query);
    const { format = 'csv' } = query;
    const writer = eventsWriter(format, headOf('events', query.site, range));
    const rows = eventsInOrder(service.database, query.site, range);
    return send(reply, { name: `${query.site}-events`, format, file: exportFile(writer, rows) });
  });
}

const TYPES = { csv: 'text/csv; charset=utf-8', ndjson: 'application/x-ndjson; charset=utf-8' } as const;

interface FileOut {
  readonly name: string;
  readonly format: ExportFormat;
  readonly file: Readable;
}

const send = (reply: FastifyReply, { name, format, file }: FileOut): FastifyReply =>
  sendFile(reply, `${name}.${format}`, TYPES[format], file);

/** One thing that goes out by points. */
interface RowsOut<Row> {
  readonly holds: Exported;
  readonly writerOf: (format: ExportFormat, head: ExportHead) => ExportWriter<Row>;
  readonly rowsOf: (
    queries: Queries,
    points: readonly ExportedPoint[],
    range: { readonly from: Instant; readonly to: Instant },
  ) => AsyncIterable<readonly Row[]>;
}

function importRoutes(app: App, service: Service): void {
  const config = { action: 'import-samples' } as const;
  const response = { 200: ImportAnswer, 400: Problem, 404: Problem };
  app.post('/import/samples', { schema: { body: ImportAsk, response }, config }, ({ body, audited }) =>
    take(body, audited, judgeSamples),
  );
  app.post(
    '/import/intervals',
    { schema: { body: IntervalImportAsk, response }, config },
    ({ body, audited }) => take(body, audited, judgeIntervals),
  );
  app.post(
    '/import/waveforms',
    { schema: { body: WaveformImportAsk, response }, config },
    ({ body, audited }) => take(body, audited, judgeWaveforms),
  );

  async function take<Row>(
    ask: Taking<Row>['ask'] & { readonly site: string },
    audited: { detail: unknown },
    judgeRows: Taking<Row>['judgeRows'],
  ): Promise<ImportAnswer> {
    const readSetup = () => setupOf(service, ask.site);
    const answer = await takeRows(service.database, { ask, now: service.now(), readSetup, judgeRows });
    if (answer.changed > 0) service.follower?.nudge();
    audited.detail = { taken: answer.taken, changed: answer.changed, faults: answer.faults.length };
    return answer;
  }
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
