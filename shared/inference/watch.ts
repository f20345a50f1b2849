import type { Instant } from '../base/instant.ts';

/**
 * Watch marks (part of the record): stretches over which our own ingest was subscribed and everything it received is
 * committed. Sorted, disjoint, adjoining marks merged. Silence is concluded only over watched time.
 */
export interface WatchCoverage {
  readonly spans: readonly { readonly from: Instant; readonly to: Instant }[];
}

/** The end of the last watched stretch, or null. */
export const watchedThrough = (watch: WatchCoverage): Instant | null => watch.spans.at(-1)?.to ?? null;

/** The instant by which `duration` of watched time has passed since `since`; null if that much hasn't been watched. */
export function watchedUntil(watch: WatchCoverage, since: Instant, duration: number): Instant | null {
  let left = duration;
  for (let i = firstEndingAfter(watch, since); i < watch.spans.length; i++) {
    const span = watch.spans[i]!;
    const from = Math.max(span.from, since);
    if (from + left <= span.to) return from + left;
    left -= span.to - from;
  }
  return null;
}

function firstEndingAfter(watch: WatchCoverage, instant: Instant): number {
  let low = 0;
  let high = watch.spans.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (watch.spans[middle]!.to > instant) high = middle;
    else low = middle + 1;
  }
  return low;
}
