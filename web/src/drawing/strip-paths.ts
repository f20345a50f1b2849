import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import { PHASE_DRAWINGS, type Drawing } from '../../../shared/wire/drawings.ts';
import type { Piece } from './pieces.ts';

/**
 * A strip to scale: one path for each drawing, so that a thousand units stay a few thousand elements. Lengths in px;
 * x = width is `now`. A piece shorter than a pixel is drawn as one, an abnormal one as two: nothing abnormal vanishes.
 */
export interface StripFrame {
  readonly now: Instant;
  readonly width: number;
  readonly secondsPerPixel: number;
}

export type StripPaths = Readonly<Partial<Record<Drawing, string>>>;

export const STRIP_HEIGHT = 18;
/** two hours at 20 s a pixel, so that a delay of 210 s can be seen */
export const STRIP_WIDTH = 360;
export const STRIP_SECONDS_PER_PIXEL = 20;

/** top and height of each drawing within the strip */
const PLACES: Record<Drawing, readonly [top: number, height: number]> = {
  running: [1, 16],
  ready: [15, 2],
  waiting: [6, 11],
  'stopped-itself': [1, 16],
  latched: [1, 16],
  'no-power': [9, 0],
  'not-known': [4, 12],
};
const LEAST_WIDTH: Record<Drawing, number> = {
  running: 1,
  ready: 0,
  waiting: 1,
  'stopped-itself': 2,
  latched: 2,
  'no-power': 2,
  'not-known': 1,
};

export function stripPaths(pieces: readonly Piece[], frame: StripFrame): StripPaths {
  const paths: Partial<Record<Drawing, string>> = {};
  const put = (drawing: Drawing, from: number, to: number) => {
    if (to <= 0 || from >= frame.width || to <= from) return;
    paths[drawing] = (paths[drawing] ?? '') + shape(drawing, Math.max(0, from), Math.min(frame.width, to));
  };
  let covered = 0;
  for (const piece of pieces) {
    const drawing = PHASE_DRAWINGS[piece.phase];
    const from = at(piece.from, frame);
    const to = Math.max(at(piece.to, frame), from + LEAST_WIDTH[drawing]);
    put('ready', covered, from);
    put(drawing, from, to);
    covered = Math.max(covered, to);
  }
  put('ready', covered, frame.width);
  return paths;
}

const at = (instant: Instant, { now, width, secondsPerPixel }: StripFrame): number =>
  Math.round((width - (now - instant) / SECOND / secondsPerPixel) * 2) / 2;

/** One drawing from x to x, within STRIP_HEIGHT. */
export function shape(drawing: Drawing, from: number, to: number): string {
  const [top, height] = PLACES[drawing];
  if (drawing === 'no-power') return `M${from},${top}H${to}`;
  if (drawing === 'latched' && to - from >= 8)
    return `M${from},${top}H${to}V${top + height}H${from}l6,${-height / 2}Z`;
  return `M${from},${top}H${to}V${top + height}H${from}Z`;
}
