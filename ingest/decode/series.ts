import { SECOND } from '../../shared/base/instant.ts';
import type { KnownPoint } from '../catalogue.ts';
import type { Intake } from './intake.ts';
import type { Fields } from './json.ts';
import { parseTime } from './time.ts';

/** `{"t0": …, "dt": 0.0083333, "v": […]}`: evenly spaced samples, `dt` in seconds. Each time is rounded once. */
export function takeSeries(intake: Intake, point: KnownPoint, body: Fields): void {
  const { t0, dt, v, q } = body;
  const where = `${point.device}/${point.signal}`;
  if (!Array.isArray(v)) return intake.refuse('form-not-known', where, v);
  const first = parseTime(t0);
  if (first === null) return intake.refuse('time-not-known', where, t0);
  if (typeof dt !== 'number' || !Number.isFinite(dt) || dt <= 0)
    return intake.refuse('form-not-known', where, { dt });
  for (const [i, value] of v.entries()) {
    // milliseconds, as a time may be claimed
    const claim = { t: (first + i * dt * SECOND) / 1_000, v: value as unknown, q };
    intake.take(point, claim, () => claim);
  }
}
