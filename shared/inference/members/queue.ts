import { seconds, type Instant } from '../../base/instant.ts';
import type { Interval } from '../../telemetry/interval.ts';
import { GOOD, isGood } from '../../telemetry/sample.ts';
import { signalRow, type SignalName } from '../../telemetry/signals.ts';
import type { Point } from '../../telemetry/site.ts';
import { edgeAt, type UnitEdge } from '../edge.ts';
import type { Subject } from '../event.ts';
import type { FoldContext } from '../fold.ts';

/**
 * Rows that a fold has taken and not yet decided on, in time order. Everything is applied in `settle`, one instant after
 * the other, so that what is decided about an instant can't lean on rows after it, however far the driver has read.
 * Sources are named by key, because their indexes change with the configuration.
 */
export type Item =
  | ReadingItem
  | { readonly t: Instant; readonly kind: 'edge'; readonly edge: UnitEdge }
  /** the point is unknown from here on; is known again */
  | { readonly t: Instant; readonly kind: 'lost' | 'back'; readonly key: string; readonly onChange: boolean }
  /** a gateway that had promised heartbeats has been silent since here; lives again */
  | { readonly t: Instant; readonly kind: 'gateway-lost'; readonly gateway: string }
  | { readonly t: Instant; readonly kind: 'gateway-back'; readonly gateway: string }
  /** other settings hold from here on */
  | { readonly t: Instant; readonly kind: 'settings' };

/** A sample of an own point, as the point was configured when it was taken. */
export interface ReadingItem {
  readonly t: Instant;
  readonly kind: 'value';
  readonly key: string;
  /** 1 asserted or 0, or the scaled value; null where quality or range let it decide nothing */
  readonly value: number | null;
  readonly onChange: boolean;
  /** µs */
  readonly resolution: number;
  readonly debounce: number;
  /** the value that voltage on a contact's input means; null where the point is no contact */
  readonly present: number | null;
  /** of an interval, which ends at `t` with its mean (or the middle) as value; scaled */
  readonly interval?: ReadInterval;
}

export type ReadInterval = Pick<Interval, 'from' | 'least' | 'most' | 'mean'>;

/** Puts an item in its place: after everything at or before its instant. */
export function enqueue(queue: Item[], item: Item): void {
  let place = queue.length;
  while (place > 0 && queue[place - 1]!.t > item.t) place--;
  if (place === queue.length) queue.push(item);
  else queue.splice(place, 0, item);
}

/** Takes every item at the instant of the first out of the queue. */
export function dequeueInstant(queue: Item[], t: Instant): Item[] {
  let count = 0;
  while (count < queue.length && queue[count]!.t === t) count++;
  return queue.splice(0, count);
}

/** The signal in a point's key, `<device>/<signal>`. */
export const signalOfKey = (key: string): SignalName => key.slice(key.indexOf('/') + 1) as SignalName;

/** Is the point the subject's own, not one of the site that it reads as well? Its owner tells of its silences. */
export const isOwnKey = (subject: Subject, key: string): boolean => key.startsWith(`${subject.device}/`);

export const edgeItem = (edge: UnitEdge): Item => ({ t: edgeAt(edge), kind: 'edge', edge });

export function readingItem(
  context: FoldContext,
  source: number,
  t: Instant,
  value: number,
  quality: number,
): ReadingItem {
  const { key, point } = context.sources[source]!;
  return {
    t,
    kind: 'value',
    key,
    value: readingOf(point!, value, quality),
    onChange: point!.reporting.mode === 'on-change',
    resolution: seconds(point!.resolutionSeconds),
    debounce: seconds(point!.debounceSeconds),
    present: isContact(point!) ? readingOf(point!, 1, GOOD) : null,
  };
}

/** An interval as a reading; one of which a bound lies outside the range decides nothing. */
export function intervalItem(
  context: FoldContext,
  source: number,
  { from, to, least, most, mean, quality }: Interval,
): ReadingItem {
  const point = context.sources[source]!.point!;
  const read = (value: number): number | null => readingOf(point, value, quality);
  const [a, b] = [read(least), read(most)];
  const middle = readingItem(context, source, to, mean ?? (least + most) / 2, quality);
  if (a === null || b === null || middle.value === null) return { ...middle, value: null };
  const bounds = { from, least: Math.min(a, b), most: Math.max(a, b) };
  return { ...middle, interval: { ...bounds, mean: mean === null ? null : middle.value } };
}

/** The point (or the gateway) of a source has become unknown, or known again; null where there is no such point. */
export function knowledgeItem(
  context: FoldContext,
  source: number,
  at: Instant,
  kind: 'lost' | 'back',
): Item | null {
  const { key, point, device, kind: of } = context.sources[source]!;
  if (of === 'life')
    return { t: at, kind: kind === 'lost' ? 'gateway-lost' : 'gateway-back', gateway: device };
  return point && { t: at, kind, key, onChange: point.reporting.mode === 'on-change' };
}

const isContact = (point: Point): boolean => signalRow(point.signal).kind === 'contact';

/** What a sample says: 1 asserted or 0, or the scaled value; null where its quality or range lets it decide nothing. */
export function readingOf(point: Point, value: number, quality: number): number | null {
  if (!isGood(quality)) return null;
  if (isContact(point)) return value >= 0.5 === (point.contact === 'normally-open') ? 1 : 0;
  const scaled = value * point.scale + point.offset;
  return scaled >= point.range[0] && scaled <= point.range[1] ? scaled : null;
}
