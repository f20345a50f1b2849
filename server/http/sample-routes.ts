import Type from 'typebox';
import { clockShifts } from '../../shared/telemetry/clock-shifts.ts';
import { readPointId, readSamples, type SampleRow } from '../../db/read-samples.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { BAD, isConflict, qualityLevel, qualityWord } from '../../shared/telemetry/sample.ts';
import { siteAt, type Point, type SiteHistory } from '../../shared/telemetry/site.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { SampleList, SeriesAnswer, type SampleAnswer } from '../../shared/wire/series.ts';
import { corrected } from '../follow/clocks.ts';
import type { Service } from '../service.ts';
import { allPoints, pointsOfDevice } from '../series/pieces.ts';
import { readSeries } from '../series/read-series.ts';
import { inSnapshot } from '../status/read-status.ts';
import type { App } from './app.ts';
import { Cursor, instantOf, limit, readCursor, Slug, stretchOf, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';
import { setupOf } from './site-routes.ts';

/** Samples exactly as they came, and series at drawn size. */
export function sampleRoutes(app: App, service: Service): void {
  exactRoute(app, service);
  drawnRoute(app, service);
}

const Stretch = { from: Type.String({ maxLength: 40 }), to: Type.String({ maxLength: 40 }) };

function exactRoute(app: App, service: Service): void {
  const samples = {
    querystring: Type.Object({
      site: Slug,
      device: Slug,
      signal: Type.String({ maxLength: 63 }),
      from: Type.Optional(Stretch.from),
      to: Type.Optional(Stretch.to),
      cursor: Cursor,
      limit: limit(1000, 10_000),
    }),
    response: { 200: SampleList, 400: Problem, 404: Problem },
  };
  app.get('/samples', { schema: samples, config: { action: 'see-sites' } }, async ({ query }) => {
    const { history } = await setupOf(service, query.site);
    const pointId = await readPointId(service.database, query.site, query.device, query.signal);
    if (pointId === null) throw noPoint(query.site, query.device, query.signal);
    const count = query.limit ?? 1000;
    const rows = await readSamples(service.database, {
      pointId,
      from: query.from === undefined ? -Infinity : instantOf('from', query.from),
      before: query.to === undefined ? Infinity : instantOf('to', query.to),
      after: readCursor(query.cursor, isInstant),
      limit: count + 1,
    });
    const items = rows.slice(0, count);
    const read = sampleReader(history, query.device, query.signal);
    return {
      items: items.map(read),
      cursor: rows.length > count ? writeCursor(items.at(-1)!.t) : null,
    };
  });
}

function drawnRoute(app: App, service: Service): void {
  const series = {
    querystring: Type.Object({
      site: Slug,
      device: Slug,
      signals: Type.Optional(
        Type.String({ maxLength: 1000, description: 'with commas; all of them if left out' }),
      ),
      ...Stretch,
      width: Type.Optional(Type.Integer({ minimum: 10, maximum: 4000, default: 1000 })),
    }),
    response: { 200: SeriesAnswer, 400: Problem, 404: Problem },
  };
  app.get('/series', { schema: series, config: { action: 'see-sites' } }, async ({ query }) => {
    const { site, device } = query;
    const stretch = stretchOf(query);
    const width = query.width ?? 1000;
    const setup = await setupOf(service, site);
    const points = pickPoints(setup.history, site, device, query.signals);
    const found = await inSnapshot(service.database, (queries) =>
      readSeries(queries, setup, points, stretch, width),
    );
    return {
      site,
      device,
      from: formatInstant(stretch.from),
      to: formatInstant(stretch.to),
      width,
      series: found,
    };
  });
}

const isInstant = (place: unknown): place is number => Number.isSafeInteger(place);

const noPoint = (site: string, device: string, signal: string): Refusal =>
  new Refusal('not-found', `There is no point "${signal}" on "${device}" at "${site}".`);

function pickPoints(
  history: SiteHistory,
  site: string,
  device: string,
  signals: string | undefined,
): Point[] {
  const points = pointsOfDevice(history, device);
  if (signals === undefined) return points;
  return signals.split(',').map((signal) => {
    const point = points.find((one) => one.signal === signal.trim());
    if (!point) throw noPoint(site, device, signal);
    return point;
  });
}

/** Outside the range that held then a sample is bad (contract 1.4), however it was sent. */
function sampleReader(
  history: SiteHistory,
  device: string,
  signal: string,
): (row: SampleRow) => SampleAnswer {
  const shifts = clockShifts(history, `${device}/${signal}`);
  return ({ t, value, quality }) => {
    const site = siteAt(history, corrected(shifts, t));
    const point = site && allPoints(site).find((one) => one.device === device && one.signal === signal);
    const level = point && isOutside(point, value) ? BAD : qualityLevel(quality);
    const answer = { t: formatInstant(t), v: value, q: qualityWord(level) };
    return isConflict(quality) ? { ...answer, conflict: true as const } : answer;
  };
}

function isOutside({ range, scale, offset }: Point, value: number): boolean {
  const scaled = value * scale + offset;
  return scaled < range[0] || scaled > range[1];
}
