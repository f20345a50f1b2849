import { SECOND } from '../../shared/base/instant.ts';
import { halfCycleRms } from '../../shared/power/rms.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import { LONGEST_WAVEFORM_SECONDS } from '../../shared/telemetry/waveform.ts';
import type { KnownPoint } from '../catalogue.ts';
import type { Intake } from './intake.ts';
import { MOST_ENTRIES, type Fields } from './json.ts';
import { parseTime } from './time.ts';
import { parseQuality } from './value.ts';

/** Fewer values a cycle show no waveform: a half-cycle RMS from them would be chance. */
const LEAST_A_CYCLE = 8;

/**
 * `{"t0": …, "dt": 0.00013021, "w": […], "scale": 1}`: instantaneous values of a voltage or a current. Taken are its
 * half-cycle RMS values, as samples of the point; the waveform itself is kept to be looked at. Whole cycles alone give a
 * value: where a waveform ends, or goes on in another message, a cycle's values are missing rather than wrong, and no dip is
 * made of it. One too short for a cycle gives none, and is kept.
 */
export function takeWaveform(intake: Intake, point: KnownPoint, body: Fields): void {
  const where = `${point.device}/${point.signal}`;
  const { t0, dt, w, scale = 1, q } = body;
  const { measure } = signalRow(point.signal);
  if (measure !== 'V' && measure !== 'A') return intake.refuse('waveform-not-here', where, undefined);
  if (!Array.isArray(w) || w.length === 0) return intake.refuse('waveform-empty', where, w);
  if (w.length > MOST_ENTRIES) return intake.refuse('too-many-entries', where, w.length);
  const t = parseTime(t0);
  if (t === null) return intake.refuse('time-not-known', where, t0);
  const step = stepOf(dt, point.frequency, w.length);
  if (step === null) return intake.refuse('waveform-step', where, { dt });
  const quality = parseQuality(q);
  if (quality === null) return intake.refuse('quality-not-known', where, q);
  if (!isFinite(scale) || scale === 0) return intake.refuse('value-not-known', where, { scale });
  const wrong = w.findIndex((value) => !isFinite(value));
  if (wrong >= 0) return intake.refuse('value-not-known', where, { [`w[${wrong}]`]: w[wrong] as unknown });
  const values = w as number[];
  const waveform = { point, t, stepSeconds: step, scale, values: Float32Array.from(values) };
  const { t: times, rms } = halfCycleRms({ startAt: t, step, values }, point.frequency);
  const samples = times.map((at, i) => ({ point, t: at, value: rms[i]! * Math.abs(scale), quality }));
  intake.takeWaveform(
    { ...waveform, until: t + Math.round(step * values.length * SECOND) },
    samples,
    () => body,
  );
}

const isFinite = (value: unknown): value is number => typeof value === 'number' && Number.isFinite(value);

/** Seconds between two values; null where they are none, or lie too far apart, or reach too far. */
function stepOf(dt: unknown, frequency: number, count: number): number | null {
  if (!isFinite(dt) || dt <= 0) return null;
  return dt * frequency * LEAST_A_CYCLE <= 1 && dt * count <= LONGEST_WAVEFORM_SECONDS ? dt : null;
}
