import type { KnownPoint } from '../catalogue.ts';
import type { Intake } from './intake.ts';
import type { Fields } from './json.ts';
import { parseTime } from './time.ts';
import { parseQuality, parseValue } from './value.ts';

/** `{"t0": …, "t1": …, "min": …, "max": …, "mean": …}`: what a meter saw between two times; the mean may be missing. */
export function takeInterval(intake: Intake, point: KnownPoint, body: Fields): void {
  const where = `${point.device}/${point.signal}`;
  const from = parseTime(body['t0']);
  const to = parseTime(body['t1']);
  if (from === null || to === null || from > to)
    return intake.refuse('time-not-known', where, { t0: body['t0'], t1: body['t1'] }, () => body);
  const quality = parseQuality(body['q']);
  if (quality === null) return intake.refuse('quality-not-known', where, body['q'], () => body);
  const least = parseValue(body['min'], 'analog');
  const most = parseValue(body['max'], 'analog');
  const givenMean = body['mean'] ?? null;
  const mean = givenMean === null ? null : parseValue(givenMean, 'analog');
  if (least === null || most === null || least > most || (mean === null && givenMean !== null))
    return intake.refuse('value-not-known', where, body, () => body);
  intake.takeInterval({ point, from, to, least, most, mean, quality }, () => body);
}
