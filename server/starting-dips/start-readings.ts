import type { Queries } from '../../db/pool.ts';
import { readWindows, type SampleWindow } from '../../db/read-windows.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { Span } from '../../shared/base/span.ts';
import type { VoltageSample } from '../../shared/power/seen-start.ts';
import type { Point, Site } from '../../shared/telemetry/site.ts';
import type { Setup } from '../follow/setup.ts';
import { piecesOf, type Piece } from '../series/pieces.ts';

/** What a voltage point read around each of some starts, corrected and scaled. */
const BEFORE = seconds(10);
const AFTER = seconds(9);

export async function readAround(
  queries: Queries,
  setup: Setup,
  point: Point,
  starts: readonly Span[],
): Promise<readonly (readonly VoltageSample[])[]> {
  const pointId = setup.ids.points.get(`${point.device}/${point.signal}`);
  if (pointId === undefined) return starts.map(() => []);
  const asked = starts.flatMap(({ earliest, latest }, start) =>
    piecesOf(setup.history, point, { from: earliest - BEFORE, to: latest + AFTER }).map((piece) => ({
      piece,
      start,
    })),
  );
  const windows = asked.map(({ piece }): SampleWindow => ({
    pointId,
    from: piece.from,
    before: piece.before,
  }));
  const found: VoltageSample[][] = starts.map(() => []);
  for (const { place, t, value } of await readWindows(queries, windows)) {
    const { piece, start } = asked[place]!;
    const volts = voltsIn(piece, value);
    if (volts !== null) found[start]!.push({ t: t + piece.by, volts });
  }
  return found.map((samples) => samples.sort((a, b) => a.t - b.t));
}

/** null: outside the point's range, so it decides nothing. */
function voltsIn({ point: { scale, offset, range } }: Piece, value: number): number | null {
  const volts = value * scale + offset;
  return volts < range[0] || volts > range[1] ? null : volts;
}

/** The start as another gateway's clock may have it. */
export function widened(site: Site, start: Span, own: string | null, meter: string): Span {
  if (own === meter) return start;
  const uncertain = (id: string | null) =>
    site.gateways.find((gateway) => gateway.id === id)?.clockUncertaintySeconds ?? 0;
  const by = seconds(uncertain(own) + uncertain(meter));
  return { earliest: start.earliest - by, latest: start.latest + by };
}

/** The newest value at or before an instant, where it is no older than so many seconds; on change it holds. */
export function valueAt(samples: readonly VoltageSample[], at: Instant, point: Point): number | null {
  const found = samples.findLast(({ t }) => t <= at);
  if (!found) return null;
  const oldest = point.reporting.mode === 'on-change' ? Infinity : seconds(3 * point.reporting.seconds);
  return at - found.t <= oldest ? found.volts : null;
}
