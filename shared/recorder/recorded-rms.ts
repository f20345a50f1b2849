import { SECOND, seconds, type Instant } from '../base/instant.ts';
import { excursionsIn } from '../power/detect.ts';
import type { Excursion } from '../power/excursion.ts';
import { halfCycleRms, type RmsValues } from '../power/rms.ts';
import { evenStretches, onGrid, type EvenStretch } from './even-stretches.ts';
import type { Recording } from './recording.ts';
import { voltsOf, type VoltageExpression } from './voltage-expression.ts';

/**
 * Urms(1/2) of a recording's voltages, by the same code that takes waveforms from a gateway. Where two rates meet, the
 * cycle across the join is laid on the coarser grid, so that a dip that begins there isn't missed.
 */
export function recordedRms(
  recording: Recording,
  expression: VoltageExpression,
  startAt: Instant,
  frequency: number,
): RmsValues {
  const stretches = evenStretches(recording, voltsOf(recording, expression));
  const pieces = stretches.map((stretch) => rmsOf(stretch, startAt, frequency));
  const joins = stretches
    .slice(1)
    .map((right, i) => joined(stretches[i]!, right, frequency))
    .map((join) => (join ? rmsOf(join, startAt, frequency) : NOTHING));
  const margin = Math.round(SECOND / frequency / 4);
  return pieces.reduce((sofar, piece, i) => {
    const [after, before] = [sofar.t.at(-1) ?? -Infinity, piece.t[0] ?? Infinity];
    const join = within(joins[i - 1] ?? NOTHING, after + margin, before - margin);
    return { t: [...sofar.t, ...join.t, ...piece.t], rms: [...sofar.rms, ...join.rms, ...piece.rms] };
  }, NOTHING);
}

const NOTHING: RmsValues = { t: [], rms: [] };

const rmsOf = ({ from, step, values }: EvenStretch, startAt: Instant, frequency: number): RmsValues =>
  halfCycleRms({ startAt: startAt + seconds(from), step, values }, frequency);

function within({ t, rms }: RmsValues, from: Instant, to: Instant): RmsValues {
  const kept = t.map((_, i) => i).filter((i) => t[i]! > from && t[i]! < to);
  return { t: kept.map((i) => t[i]!), rms: kept.map((i) => rms[i]!) };
}

/** Two cycles before the join and two after, on the coarser of the two grids; null: they don't meet. */
function joined(left: EvenStretch, right: EvenStretch, frequency: number): EvenStretch | null {
  const meets = left.from + left.step * (left.values.length - 1);
  if (Math.abs(right.from - meets) > left.step / 2) return null;
  const reach = 2 / frequency;
  const first = Math.max(0, left.values.length - 1 - Math.ceil(reach / left.step));
  const last = Math.min(right.values.length - 1, Math.ceil(reach / right.step));
  const times = [
    ...range(first, left.values.length - 1).map((i) => left.from + i * left.step),
    ...range(1, last).map((i) => right.from + i * right.step),
  ];
  const values = [...left.values.subarray(first), ...right.values.subarray(1, last + 1)];
  const step = Math.max(left.step, right.step);
  return onGrid(Float64Array.from(times), Float64Array.from(values), times[0]!, step);
}

const range = (first: number, last: number): number[] =>
  Array.from({ length: Math.max(0, last - first + 1) }, (_, i) => first + i);

/** Dips, swells and interruptions in a recording's voltages, by channel; `declared` in V. */
export function recordedExcursions(
  recording: Recording,
  voltages: Readonly<Record<string, VoltageExpression>>,
  how: { readonly startAt: Instant; readonly frequency: number; readonly declared: number },
): Excursion[] {
  const { startAt, frequency, declared } = how;
  const series = Object.entries(voltages).map(([channel, expression]) => {
    const { t, rms } = recordedRms(recording, expression, startAt, frequency);
    return [channel, { t, values: rms.map((volts) => volts / declared) }] as const;
  });
  return excursionsIn(Object.fromEntries(series));
}
