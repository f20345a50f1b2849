import type { Queries } from '../../db/pool.ts';
import { readDrawn } from '../../db/read-samples.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { steadyLevel, type SteadyLevel, type TenMinutes } from '../../shared/power/steady-level.ts';
import { LINE_VOLTAGES } from '../../shared/recorder/propose-voltages.ts';
import type { Panel } from '../../shared/telemetry/site.ts';
import type { Setup } from '../follow/setup.ts';
import { piecesOf } from '../series/pieces.ts';

/**
 * The panel's steady voltage over a stretch of time, from ten-minute means; null: nothing steady was read. Of polled meters
 * alone: values that come on change aren't evenly spread, and their mean would be none of the voltage.
 */
const TEN_MINUTES = seconds(600);

export async function readSteadyLevel(
  queries: Queries,
  setup: Setup,
  panel: Panel,
  stretch: { readonly from: Instant; readonly to: Instant },
): Promise<SteadyLevel | null> {
  const points = LINE_VOLTAGES.flatMap(
    (signal) => panel.points.find((point) => point.signal === signal) ?? [],
  );
  if (points.some(({ reporting }) => reporting.mode !== 'polled')) return null;
  const found = new Map<number, Map<string, TenMinutes['volts'][number]>>();
  for (const point of points) {
    const pointId = setup.ids.points.get(`${point.device}/${point.signal}`);
    if (pointId === undefined) continue;
    for (const piece of piecesOf(setup.history, point, stretch)) {
      const pixels = { origin: 0, width: TEN_MINUTES };
      for (const { t, least, most, sum, count } of await readDrawn(
        queries,
        { ...piece, pointId },
        pixels,
        piece.point,
      )) {
        const at = Math.floor((t + piece.by) / TEN_MINUTES);
        const told = found.get(at) ?? new Map<string, TenMinutes['volts'][number]>();
        found.set(at, told.set(point.signal, { least, most, mean: sum / count }));
      }
    }
  }
  return steadyLevel(
    [...found.values()]
      .filter((told) => told.size === points.length)
      .map((told) => ({ volts: points.map(({ signal }) => told.get(signal)!) })),
    panel.nominalVoltage,
  );
}
