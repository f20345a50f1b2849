import type { Instant } from '../../../shared/base/instant.ts';

/** A small drawing of what a point said: steps, for a value holds until the next one. */
export interface TraceFrame {
  readonly from: Instant;
  readonly to: Instant;
  readonly width: number;
  readonly height: number;
}

interface Value {
  readonly t: Instant;
  readonly v: number;
}

/** Least and most of what is drawn; a line that doesn't move still gets room. */
export function traceScale(values: readonly Value[]): readonly [low: number, high: number] {
  let [low, high] = [Infinity, -Infinity];
  for (const { v } of values) [low, high] = [Math.min(low, v), Math.max(high, v)];
  if (low > high) return [0, 1];
  const room = Math.max((high - low) * 0.08, Math.abs(high) * 0.002, 0.05);
  return [low - room, high + room];
}

/** An SVG path; empty: nothing lies in the stretch. `isStepped`: it holds its value until the next sample. */
export function tracePath(values: readonly Value[], frame: TraceFrame, isStepped: boolean): string {
  const { from, to, width, height } = frame;
  const [low, high] = traceScale(values);
  const x = (t: Instant) => rounded(((Math.max(from, t) - from) / (to - from)) * width);
  const y = (v: number) => rounded(((high - v) / (high - low)) * height);
  const first = values.findLastIndex(({ t }) => t <= from);
  let path = '';
  for (const { t, v } of values.slice(Math.max(0, first))) {
    if (t > to) break;
    if (path === '') path = `M${x(t)},${y(v)}`;
    else path += isStepped ? `H${x(t)}V${y(v)}` : `L${x(t)},${y(v)}`;
  }
  return path === '' || !isStepped ? path : `${path}H${x(to)}`;
}

const rounded = (value: number): number => Math.round(value * 10) / 10;
