import type { KnownPoint } from '../catalogue.ts';
import { takeColumns } from './columns.ts';
import type { Intake } from './intake.ts';
import { takeInterval } from './interval.ts';
import { isObject, MOST_ENTRIES } from './json.ts';
import { takeSample, takeSamples, takeScalar } from './sample.ts';
import { takeSeries } from './series.ts';
import { takeWaveform } from './waveform.ts';

/** The payload of a signal topic: which of the forms of contract 1.1 it is tells by its fields. */
export function takeSignalMessage(intake: Intake, point: KnownPoint, body: unknown): void {
  if (entriesIn(body) > MOST_ENTRIES)
    return intake.refuse('too-many-entries', `${point.device}/${point.signal}`, entriesIn(body));
  if (Array.isArray(body)) return takeSamples(intake, point, body);
  if (!isObject(body)) {
    if (body === null) return intake.refuse('form-not-known', `${point.device}/${point.signal}`, body);
    return takeScalar(intake, point, body);
  }
  if ('w' in body) return takeWaveform(intake, point, body);
  if ('t1' in body) return takeInterval(intake, point, body);
  if ('t0' in body) return takeSeries(intake, point, body);
  if (Array.isArray(body['v']) || Array.isArray(body['t'])) return takeColumns(intake, point, body);
  if ('v' in body || 'q' in body) return takeSample(intake, point, body);
  intake.refuse('form-not-known', `${point.device}/${point.signal}`, body);
}

function entriesIn(body: unknown): number {
  const list = isObject(body) ? body['v'] : body;
  return Array.isArray(list) ? list.length : 1;
}
