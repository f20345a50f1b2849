import { SECOND, type Instant } from '../../../shared/base/instant.ts';

/** The stretch of time a chart shows, and how it is moved. */
export interface TimeWindow {
  readonly from: Instant;
  readonly to: Instant;
}

/** What the address says: the last so much, moving with the time, or a stretch that stands still. */
export type Showing =
  | { readonly kind: 'live'; readonly seconds: number }
  | { readonly kind: 'still'; readonly from: Instant; readonly to: Instant };

export const RANGES: readonly (readonly [name: string, words: string, seconds: number])[] = [
  ['15min', '15 min', 900],
  ['1h', '1 h', 3600],
  ['2h', '2 h', 7200],
  ['6h', '6 h', 21_600],
  ['24h', '24 h', 86_400],
  ['7d', '7 d', 604_800],
];

/** Beyond now, so that a wait's end can be seen coming; as a share of the range. */
const AHEAD = 0.08;
const LEAST: number = 10 * SECOND;
const MOST: number = 40 * 86_400 * SECOND;

export const lengthOf = (window: TimeWindow): number => window.to - window.from;

/** The window that is shown now. A live one moves by whole pixels, so that lines don't shimmer. */
export function windowOf(showing: Showing, now: Instant, width: number): TimeWindow {
  if (showing.kind === 'still') return { from: showing.from, to: showing.to };
  const length = showing.seconds * SECOND;
  const pixel = Math.max(SECOND, length / Math.max(1, width));
  const edge = Math.ceil(now / pixel) * pixel;
  return { from: Math.round(edge - length * (1 - AHEAD)), to: Math.round(edge + length * AHEAD) };
}

/** Longer or shorter by a factor around a place (0 left, 1 right). */
export function zoomed(window: TimeWindow, factor: number, place = 0.5): TimeWindow {
  const length = lengthOf(window);
  const next = Math.min(MOST, Math.max(LEAST, length * factor));
  const from = Math.round(window.from + (length - next) * place);
  return { from, to: Math.round(from + next) };
}

/** Moved by a share of its length, not further than now is still seen. */
export function panned(window: TimeWindow, share: number, now: Instant): TimeWindow {
  const by = Math.round(lengthOf(window) * share);
  const most = Math.max(0, now + lengthOf(window) * AHEAD - window.to);
  const moved = Math.min(by, Math.round(most));
  return { from: window.from + moved, to: window.to + moved };
}

/** A window around something, with room at both sides. */
export function around(from: Instant, to: Instant): TimeWindow {
  const room = Math.max((to - from) * 0.6, 240 * SECOND);
  return { from: Math.round(from - room), to: Math.round(to + room) };
}

export const x = (at: Instant, window: TimeWindow, width: number): number =>
  ((at - window.from) / lengthOf(window)) * width;

export const instantAt = (pixel: number, window: TimeWindow, width: number): Instant =>
  Math.round(window.from + (pixel / width) * lengthOf(window));
