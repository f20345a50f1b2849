import type { SampleColumns } from '../db/samples.ts';
import { mergeSamples } from '../shared/telemetry/sample.ts';
import type { TakenSample } from './decode/decoded.ts';

/** Samples sorted by (point, t), those of one point and instant merged (contract 1.4: order can't matter). */
export function sampleColumns(samples: readonly TakenSample[]): SampleColumns {
  const sorted = inOrder(samples) ? samples : [...samples].sort(byPointAndTime);
  const pointId: number[] = [];
  const t: number[] = [];
  const value: number[] = [];
  const quality: number[] = [];
  for (const sample of sorted) {
    const last = t.length - 1;
    if (last >= 0 && pointId[last] === sample.point.id && t[last] === sample.t) {
      const merged = mergeSamples({ t: sample.t, value: value[last]!, quality: quality[last]! }, sample);
      value[last] = merged.value;
      quality[last] = merged.quality;
    } else {
      pointId.push(sample.point.id);
      t.push(sample.t);
      value.push(sample.value);
      quality.push(sample.quality);
    }
  }
  return { length: t.length, pointId, t, value, quality };
}

const byPointAndTime = (a: TakenSample, b: TakenSample): number => a.point.id - b.point.id || a.t - b.t;

function inOrder(samples: readonly TakenSample[]): boolean {
  for (let i = 1; i < samples.length; i++) if (byPointAndTime(samples[i - 1]!, samples[i]!) > 0) return false;
  return true;
}
