import { formatInstant, parseInstant, SECOND } from '../../../shared/base/instant.ts';
import { lengthOf, RANGES, type Showing, type TimeWindow } from './window.ts';

/** Between the address and what a chart shows: `?range=2h`, or `?from=…&to=…`. */
export function showingOf(query: URLSearchParams, fallback: Showing): Showing {
  const [from, to] = [parseInstant(query.get('from') ?? ''), parseInstant(query.get('to') ?? '')];
  if (from !== null && to !== null && from < to) return { kind: 'still', from, to };
  const range = RANGES.find(([name]) => name === query.get('range'));
  return range ? { kind: 'live', seconds: range[2] } : fallback;
}

/** The words of the address for a window that stands still, no finer than can be seen. */
export function stillWords(window: TimeWindow) {
  const fine = lengthOf(window) < 7200 * SECOND ? SECOND / 10 : SECOND;
  return {
    from: formatInstant(Math.floor(window.from / fine) * fine),
    to: formatInstant(Math.ceil(window.to / fine) * fine),
    range: null,
  };
}

export const liveWords = (range: string) => ({ range, from: null, to: null });

export const rangeName = (showing: Showing): string | null =>
  showing.kind === 'live' ? (RANGES.find(([, , seconds]) => seconds === showing.seconds)?.[0] ?? null) : null;
