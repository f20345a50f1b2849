import type { IntervalRow } from '../../db/intervals.ts';
import { laterWaveform, type WaveformRow } from '../../db/waveforms.ts';
import { formatInstant, parseInstant, SECOND } from '../../shared/base/instant.ts';
import { mergeIntervals } from '../../shared/telemetry/interval.ts';
import { SIGNALS, type SignalRow } from '../../shared/telemetry/signals.ts';
import type { IntervalImportRow } from '../../shared/wire/interval-rows.ts';
import type { WaveformImportRow } from '../../shared/wire/waveform-rows.ts';
import { qualityOf, type Judged, type Judging } from './take-rows.ts';

/** Intervals and waveforms, which stand beside the samples. Of a waveform the half-cycle values are samples already. */

export function judgeIntervals({ judge, rows }: Judging<IntervalImportRow>): Judged {
  const faults: Judged['faults'] = [];
  const kept = new Map<string, IntervalRow>();
  for (const [row, { point, from: begins, to: ends, ...given }] of rows.entries()) {
    const [placed, from] = [judge.place(point, ends), parseInstant(begins)];
    const says =
      'says' in placed ? placed.says : intervalFault(point, from !== null && from <= placed.t, given);
    if ('says' in placed || from === null || says !== null) {
      faults.push({ row, says: says ?? `"${begins}" is no time.` });
      continue;
    }
    const { pointId, t: to } = placed;
    const { least, most, mean = null, quality, conflict } = given;
    const key = `${pointId}@${from}@${to}`;
    const one = { from, to, least, most, mean, quality: qualityOf(quality, conflict) };
    const before = kept.get(key);
    kept.set(key, { pointId, ...(before ? mergeIntervals(before, one) : one) });
  }
  const intervals = [...kept.values()].sort(
    (a, b) => a.pointId - b.pointId || a.to - b.to || a.from - b.from,
  );
  return { batch: { intervals }, faults };
}

function intervalFault(
  point: string,
  isInOrder: boolean,
  { least, most }: Pick<IntervalImportRow, 'least' | 'most'>,
): string | null {
  if (signalOf(point)?.kind !== 'analog')
    return `${point} is no analog value: an interval says nothing of it.`;
  if (!isInOrder) return 'It ends before it begins: turn from and to about.';
  return least > most ? `Its least, ${least}, is more than its most, ${most}.` : null;
}

export function judgeWaveforms({ judge, rows }: Judging<WaveformImportRow>): Judged {
  const faults: Judged['faults'] = [];
  const kept = new Map<string, WaveformRow>();
  for (const [row, { point, t: text, stepSeconds, scale, values }] of rows.entries()) {
    const t = parseInstant(text);
    const ends = t === null ? text : formatInstant(t + Math.round(stepSeconds * values.length * SECOND));
    const placed = judge.place(point, ends);
    const says = 'says' in placed ? placed.says : waveformFault(point);
    if ('says' in placed || t === null || says !== null) {
      faults.push({ row, says: says ?? `"${text}" is no time.` });
      continue;
    }
    const { pointId } = placed;
    const one = { pointId, t, stepSeconds, scale, values: Float32Array.from(values) };
    const key = `${pointId}@${t}`;
    const before = kept.get(key);
    kept.set(key, before ? laterWaveform(before, one) : one);
  }
  const waveforms = [...kept.values()].sort((a, b) => a.pointId - b.pointId || a.t - b.t);
  return { batch: { waveforms }, faults };
}

function waveformFault(point: string): string | null {
  const measure = signalOf(point)?.measure;
  return measure === 'V' || measure === 'A' ? null : `${point} is no voltage or current: it has no waveform.`;
}

const signalOf = (point: string): SignalRow | undefined =>
  (SIGNALS as Readonly<Record<string, SignalRow>>)[point.slice(point.indexOf('/') + 1)];
