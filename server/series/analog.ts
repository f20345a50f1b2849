import type { Queries } from '../../db/pool.ts';
import { readDrawn, type DrawnValue, type Pixels } from '../../db/read-samples.ts';
import { ROLLUP } from '../../db/rollups.ts';
import { formatInstant, type Instant } from '../../shared/base/instant.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import type { AnalogSeries } from '../../shared/wire/series.ts';
import { piecesOf } from './pieces.ts';
import type { Drawn } from './read-series.ts';

/** Least, greatest and mean of each drawn pixel, added up in the database: a week costs no more to send than an hour. */
export async function readAnalog(queries: Queries, drawn: Drawn): Promise<AnalogSeries> {
  const { point, pointId, stretch, width } = drawn;
  const row = signalRow(point.signal);
  const values: DrawnValue[] = [];
  const pixel = pixelsFrom(stretch.from, stretch.to, width).width;
  for (const piece of piecesOf(drawn.history, point, stretch)) {
    const pixels = pixelsFrom(stretch.from - piece.by, stretch.to - piece.by, width);
    const { scale, offset, range } = piece.point;
    const found = await readDrawn(queries, { ...piece, pointId }, pixels, { scale, offset, range });
    values.push(...found.map((value) => ({ ...value, t: value.t + piece.by })));
  }
  return {
    kind: 'analog',
    measure: row.measure as AnalogSeries['measure'],
    device: point.device,
    signal: point.signal,
    name: row.name,
    unknown: drawn.unknown.map(({ from, to }) => ({ from: formatInstant(from), to: formatInstant(to) })),
    t: values.map(({ t }) => formatInstant(t)),
    min: values.map(({ least }) => least),
    max: values.map(({ most }) => most),
    mean: values.map(({ sum, count }) => sum / count),
    last: values.map(({ last }) => last),
    breakAfter: breakAfter(drawn, pixel),
  };
}

/** At most `count` pixels; such as hold five minutes and more lie on the grid of the rollups, so that they are made of whole ones. */
function pixelsFrom(from: Instant, to: Instant, count: number): Pixels {
  const width = Math.max(1, Math.ceil((to - from) / count));
  if (width < ROLLUP) return { origin: from, width };
  const origin = Math.floor(from / ROLLUP) * ROLLUP;
  return { origin, width: Math.ceil((to - origin) / count / ROLLUP) * ROLLUP };
}

/** A polled line is broken after three missed polls; an on-change value holds for as long as its gateway lives. */
function breakAfter({ point, stretch }: Drawn, pixel: number): number {
  if (point.reporting.mode === 'on-change') return (stretch.to - stretch.from) / 1e6;
  return Math.max(3 * point.reporting.seconds, (2 * pixel) / 1e6);
}
