import { clockShifts } from '../../shared/telemetry/clock-shifts.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { isSignalName } from '../../shared/telemetry/signals.ts';
import type { Point, Site, SiteHistory } from '../../shared/telemetry/site.ts';

/** A stretch of claimed time over which one wiring of a point and one correction of its clock hold. */
export interface Piece {
  readonly point: Point;
  /** claimed */
  readonly from: Instant;
  readonly before: Instant;
  /** added to claimed times, µs */
  readonly by: number;
}

/** Every point of a device that any version of the site has; the newest version of each. */
export function pointsOfDevice(history: SiteHistory, device: string): Point[] {
  const found = new Map<string, Point>();
  for (const { site } of history)
    for (const point of allPoints(site)) if (point.device === device) found.set(point.signal, point);
  return [...found.values()].filter(({ signal }) => isSignalName(signal));
}

export const allPoints = (site: Site): Point[] => [
  ...site.points,
  ...[...site.units, ...site.panels, ...site.spaces].flatMap((device) =>
    device.points.filter((point) => point.device === device.id),
  ),
];

/** A stretch of true time, cut where the point's wiring or its clock's offset changes. */
export function piecesOf(
  history: SiteHistory,
  { device, signal }: Pick<Point, 'device' | 'signal'>,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): Piece[] {
  const shifts = clockShifts(history, `${device}/${signal}`);
  const clocks = shifts.length > 0 ? shifts : [{ from: -Infinity, before: Infinity, by: 0 }];
  return history.flatMap((version, i) => {
    const point = allPoints(version.site).find((one) => one.device === device && one.signal === signal);
    if (!point) return [];
    const start = Math.max(from, i === 0 ? -Infinity : version.from);
    const end = Math.min(to, history[i + 1]?.from ?? Infinity);
    return clocks
      .map(({ from: since, before, by }) => ({
        point,
        by,
        from: Math.max(since, start - by),
        before: Math.min(before, end - by),
      }))
      .filter((piece) => piece.from < piece.before);
  });
}
