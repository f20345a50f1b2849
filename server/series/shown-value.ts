import { signalRow } from '../../shared/telemetry/signals.ts';
import type { Point } from '../../shared/telemetry/site.ts';

/** A raw value as people read it: a contact asserted (1) or not, a measure with its scale and offset. */
export function shownValue(point: Point, raw: number): number {
  if (signalRow(point.signal).kind !== 'contact') return raw * point.scale + point.offset;
  return (raw >= 0.5 ? 1 : 0) === (point.contact === 'normally-open' ? 1 : 0) ? 1 : 0;
}
