import type { KnownPoint } from '../catalogue.ts';
import type { Intake } from './intake.ts';
import { isObject, type Fields } from './json.ts';

/** `24.6`, `true`, `"closed"`: one sample, timed at arrival. */
export function takeScalar(intake: Intake, point: KnownPoint, value: unknown): void {
  intake.take(point, { t: undefined, v: value, q: undefined }, () => value);
}

/** `{"t": …, "v": 1, "q": "good"}`: one sample at its own time. */
export function takeSample(intake: Intake, point: KnownPoint, body: Fields): void {
  intake.take(point, { t: body['t'], v: body['v'], q: body['q'] }, () => body);
}

/** `[{"t": …, "v": …}, …]`: many samples, in any order. */
export function takeSamples(intake: Intake, point: KnownPoint, entries: readonly unknown[]): void {
  for (const entry of entries) {
    if (isObject(entry) && ('v' in entry || 'q' in entry)) takeSample(intake, point, entry);
    else intake.refuse('form-not-known', `${point.device}/${point.signal}`, entry, () => entry);
  }
}
