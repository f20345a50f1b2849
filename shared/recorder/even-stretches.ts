import type { Recording } from './recording.ts';

/**
 * RMS values need evenly spaced samples. A recording is cut into stretches that are: one for each rate, or where its time
 * stamps keep their step; a hole, or a missing value, ends a stretch. Where time stamps jitter by more than a share of
 * their step the stretch is laid on an even grid by cubic interpolation, and so is the join of two rates.
 */
export interface EvenStretch {
  /** seconds from the first sample */
  readonly from: number;
  /** seconds between two values */
  readonly step: number;
  readonly values: Float64Array;
}

/** `values` one for each sample; NaN: missing. */
export function evenStretches(recording: Recording, values: Float64Array): EvenStretch[] {
  const { rates, times } = recording;
  const cuts = rates.slice(0, -1).map(({ last }) => last - 1);
  const bounds = [0, ...cuts.filter((cut) => cut > 0 && cut < times.length - 1), times.length - 1];
  return bounds
    .slice(1)
    .flatMap((last, i) => presentIn(values, bounds[i]!, last))
    .flatMap(([first, last]) =>
      rates.length > 0 ? [[first, last] as const] : withoutHoles(times, first, last),
    )
    .filter(([first, last]) => last - first >= 3)
    .map(([first, last]) => evenStretch(times, values, first, last));
}

type Range = readonly [first: number, last: number];

/** Runs of samples that are there, of `first` to `last`, both included. */
function presentIn(values: Float64Array, first: number, last: number): Range[] {
  const runs: Range[] = [];
  for (let at = first; at <= last; at++) {
    if (Number.isNaN(values[at]!)) continue;
    const begins = at;
    while (at < last && !Number.isNaN(values[at + 1]!)) at++;
    runs.push([begins, at]);
  }
  return runs;
}

/** Steps so much longer than the usual one are holes. */
const HOLE = 2.5;

function withoutHoles(times: Float64Array, first: number, last: number): Range[] {
  const usual = medianStep(times, first, last);
  const runs: Range[] = [];
  let begins = first;
  for (let at = first; at < last; at++)
    if (times[at + 1]! - times[at]! > HOLE * usual) {
      runs.push([begins, at]);
      begins = at + 1;
    }
  return [...runs, [begins, last]];
}

function medianStep(times: Float64Array, first: number, last: number): number {
  const steps = times.subarray(first, last).map((time, i) => times[first + i + 1]! - time);
  return steps.sort()[steps.length >> 1] ?? 0;
}

/** Share of a step by which samples may lie beside an even grid and still be taken for even. */
const JITTER = 0.02;

function evenStretch(times: Float64Array, values: Float64Array, first: number, last: number): EvenStretch {
  const from = times[first]!;
  const step = (times[last]! - from) / (last - first);
  const isEven = times
    .subarray(first, last + 1)
    .every((time, i) => Math.abs(time - from - i * step) <= JITTER * step);
  if (isEven) return { from, step, values: values.slice(first, last + 1) };
  return onGrid(times.subarray(first, last + 1), values.subarray(first, last + 1), from, step);
}

/** Values on an even grid from `from` to the last of `times`, each on the cubic through the samples around it. */
export function onGrid(times: Float64Array, values: Float64Array, from: number, step: number): EvenStretch {
  const count = step > 0 ? Math.floor((times.at(-1)! - from) / step + 1e-9) + 1 : 0;
  const even = new Float64Array(count);
  for (let i = 0, at = 0; i < count; i++) {
    const time = from + i * step;
    while (at < times.length - 2 && times[at + 1]! <= time) at++;
    even[i] = between(times, values, at, time);
  }
  return { from, step, values: even };
}

/** Cubic Hermite with the slopes of the neighbours' chords. */
function between(times: Float64Array, values: Float64Array, at: number, time: number): number {
  const [t0, t1] = [times[at]!, times[at + 1]!];
  const width = t1 - t0;
  if (width <= 0) return values[at]!;
  const slope = (i: number): number => {
    const [a, b] = [Math.max(0, i - 1), Math.min(times.length - 1, i + 1)];
    return (values[b]! - values[a]!) / (times[b]! - times[a]! || width);
  };
  const s = Math.min(1, Math.max(0, (time - t0) / width));
  const [a, b, c, d] = [(1 + 2 * s) * (1 - s) ** 2, s * (1 - s) ** 2, s * s * (3 - 2 * s), s * s * (s - 1)];
  return a * values[at]! + b * width * slope(at) + c * values[at + 1]! + d * width * slope(at + 1);
}
