import type { KnownPoint } from '../catalogue.ts';
import type { Intake } from './intake.ts';
import type { Fields } from './json.ts';

/** `{"t": […], "v": […]}`: many samples as columns; `q` is one word for all, or a column too. */
export function takeColumns(intake: Intake, point: KnownPoint, body: Fields): void {
  const { t, v, q } = body;
  if (!Array.isArray(t) || !Array.isArray(v) || !fits(t, v) || (Array.isArray(q) && !fits(t, q)))
    return intake.refuse('form-not-known', `${point.device}/${point.signal}`, 'columns differ in length');
  const times: readonly unknown[] = t;
  const values: readonly unknown[] = v;
  const qualities: readonly unknown[] | null = Array.isArray(q) ? q : null;
  for (let i = 0; i < times.length; i++) {
    // a hole in a column of times is no time, not "timed at arrival"
    const claim = { t: times[i] ?? null, v: values[i], q: qualities ? qualities[i] : q };
    intake.take(point, claim, () => claim);
  }
}

const fits = (a: readonly unknown[], b: readonly unknown[]): boolean => a.length === b.length;
