import Type from 'typebox';
import { readPointId } from '../../db/read-samples.ts';
import { readWaveforms, type WaveformRow } from '../../db/waveforms.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { clockShifts } from '../../shared/telemetry/clock-shifts.ts';
import { signalRow, type SignalName } from '../../shared/telemetry/signals.ts';
import { siteAt, type SiteHistory } from '../../shared/telemetry/site.ts';
import { LONGEST_WAVEFORM_SECONDS } from '../../shared/telemetry/waveform.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { WaveformList, type WaveformAnswer } from '../../shared/wire/waveform-answer.ts';
import { corrected } from '../follow/clocks.ts';
import type { Service } from '../service.ts';
import { allPoints } from '../series/pieces.ts';
import type { App } from './app.ts';
import { Cursor, limit, readCursor, Slug, stretchOf, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';
import { setupOf } from './site-routes.ts';

/** Waveforms that reach into a stretch of time, as long as they are kept. */
export function waveformRoutes(app: App, service: Service): void {
  const waveforms = {
    querystring: Type.Object({
      site: Slug,
      device: Slug,
      signal: Type.String({ maxLength: 63 }),
      from: Type.String({ maxLength: 40 }),
      to: Type.String({ maxLength: 40 }),
      cursor: Cursor,
      limit: limit(10, 50),
    }),
    response: { 200: WaveformList, 400: Problem, 404: Problem },
  };
  app.get('/waveforms', { schema: waveforms, config: { action: 'see-sites' } }, async ({ query }) => {
    const { site, device, signal } = query;
    const { history } = await setupOf(service, site);
    const { from, to } = stretchOf(query);
    const pointId = await readPointId(service.database, site, device, signal);
    if (pointId === null)
      throw new Refusal('not-found', `There is no point "${signal}" on "${device}" at "${site}".`);
    const count = query.limit ?? 10;
    const rows = await readWaveforms(service.database, {
      pointId,
      from,
      before: to,
      after: readCursor(query.cursor, isInstant),
      longestSeconds: LONGEST_WAVEFORM_SECONDS,
      limit: count + 1,
    });
    const items = rows.slice(0, count);
    return {
      items: items.map((row) => answerOf(row, history, device, signal as SignalName)),
      cursor: rows.length > count ? writeCursor(items.at(-1)!.t) : null,
    };
  });
}

const isInstant = (place: unknown): place is number => Number.isSafeInteger(place);

/** Scaled as the message and, at that time, the point's settings say. */
function answerOf(
  row: WaveformRow,
  history: SiteHistory,
  device: string,
  signal: SignalName,
): WaveformAnswer {
  const at = corrected(clockShifts(history, `${device}/${signal}`), row.t);
  const site = siteAt(history, at);
  const point = site && allPoints(site).find((one) => one.device === device && one.signal === signal);
  const scale = row.scale * (point?.scale ?? 1);
  return {
    t0: formatInstant(row.t),
    dt: row.stepSeconds,
    measure: signalRow(signal).measure === 'A' ? 'A' : 'V',
    w: Array.from(row.values, (value) => Number((value * scale).toPrecision(7))),
  };
}
