import type { Instant } from '../../../shared/base/instant.ts';
import type { ContactLane, Stretch } from '../view/series-view.ts';
import { x, type TimeWindow } from './window.ts';

/**
 * A contact as a stepped line: high is asserted. A change that is only known to lie between two instants is drawn as a
 * slope between them, with the interval shaded; where nothing is known there is no line.
 */
export interface LaneFrame {
  readonly window: TimeWindow;
  readonly width: number;
  /** y of the asserted and of the other level */
  readonly high: number;
  readonly low: number;
  /** nothing is drawn beyond: the last instant that is known */
  readonly until: Instant;
}
export interface LanePath {
  readonly steps: string;
  /** shaded intervals in which a change lies, as [x, width] */
  readonly uncertain: readonly (readonly [number, number])[];
  readonly unknown: readonly (readonly [number, number])[];
  readonly crowded: readonly (readonly [number, number])[];
  /** where the contact is asserted, as one path of boxes */
  readonly asserted: string;
  /** changes a pixel: from about a tenth on, edges run together */
  readonly density: number;
}

/** An interval narrower than this many pixels is drawn as an edge. */
const EDGE = 2;

export function lanePath(lane: ContactLane, frame: LaneFrame): LanePath {
  const uncertain: (readonly [number, number])[] = [];
  const parts: string[] = [];
  const asserted: string[] = [];
  let edges = 0;
  let pen: { readonly y: number } | null = null;
  const end = Math.min(frame.until, frame.window.to);
  const gaps = [...lane.unknown, ...lane.crowded].sort((a, b) => a.from - b.from);
  for (let i = 0; i < lane.t.length; i++) {
    const [at, earliest, y] = [lane.t[i]!, lane.earliest[i]!, lane.v[i]! === 1 ? frame.high : frame.low];
    const next = Math.min(lane.t[i + 1] === undefined ? end : lane.earliest[i + 1]!, end);
    if (next < frame.window.from && (lane.t[i + 1] ?? end) < frame.window.from) continue;
    if (at > frame.window.to) break;
    const [left, right] = [place(earliest, frame), place(at, frame)];
    edges++;
    if (lane.v[i] === 1 && next > at)
      asserted.push(`M${right},${frame.high}H${place(next, frame)}V${frame.low}H${right}Z`);
    if (pen === null) parts.push(`M${right},${y}`);
    else parts.push(right - left > EDGE ? `H${left}L${right},${y}` : `H${right}V${y}`);
    if (pen !== null && right - left > EDGE) uncertain.push([left, round(right - left)]);
    pen = { y };
    pen = throughGaps(gaps, at, next, y, frame, parts) ? pen : null;
  }
  return {
    steps: parts.join(''),
    uncertain,
    unknown: boxes(lane.unknown, frame),
    crowded: boxes(lane.crowded, frame),
    asserted: asserted.join(''),
    density: edges / frame.width,
  };
}

/** The level from one change to the next, lifted where nothing is known; answers whether the pen ends on the paper. */
function throughGaps(
  gaps: readonly Stretch[],
  from: Instant,
  to: Instant,
  y: number,
  frame: LaneFrame,
  parts: string[],
): boolean {
  let at = from;
  for (const gap of gaps) {
    if (gap.to <= at || gap.from >= to) continue;
    if (gap.from > at) parts.push(`H${place(gap.from, frame)}`);
    at = gap.to;
    if (at >= to) return false;
    parts.push(`M${place(at, frame)},${y}`);
  }
  if (to > at) parts.push(`H${place(to, frame)}`);
  return true;
}

const boxes = (stretches: readonly Stretch[], frame: LaneFrame): (readonly [number, number])[] =>
  stretches.flatMap(({ from, to }) => {
    if (to <= frame.window.from || from >= frame.window.to) return [];
    const left = place(from, frame);
    return [[left, Math.max(1, round(place(to, frame) - left))] as const];
  });

/** Clamped just outside the drawing, so that numbers stay small however far the data reach. */
const place = (at: Instant, { window, width }: LaneFrame): number =>
  round(Math.min(width + 4, Math.max(-4, x(at, window, width))));
const round = (value: number): number => Math.round(value * 2) / 2;
