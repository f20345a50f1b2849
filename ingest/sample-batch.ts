import type { SampleColumns } from '../db/samples.ts';
import { mergeSamples } from '../shared/telemetry/sample.ts';
import type { TakenSample } from './decode/decoded.ts';

/** Samples sorted by (point, t), those of one point and instant merged (contract 1.4: order can't matter). */
export function sampleColumns(samples: readonly TakenSample[]): SampleColumns {
  const columns: Filling = {
    pointId: new Int32Array(samples.length),
    t: new Float64Array(samples.length),
    value: new Float64Array(samples.length),
    quality: new Int16Array(samples.length),
  };
  let length = 0;
  for (const [pointId, own] of byPoint(samples)) length = put(columns, length, pointId, inOrder(own));
  if (length === samples.length) return { length, ...columns };
  return {
    length,
    pointId: columns.pointId.subarray(0, length),
    t: columns.t.subarray(0, length),
    value: columns.value.subarray(0, length),
    quality: columns.quality.subarray(0, length),
  };
}

interface Filling {
  readonly pointId: Int32Array;
  readonly t: Float64Array;
  readonly value: Float64Array;
  readonly quality: Int16Array;
}

/** From this place on; answers the place after them. */
function put(to: Filling, from: number, pointId: number, samples: readonly TakenSample[]): number {
  let at = from;
  for (const sample of samples) {
    const last = at - 1;
    let given: Omit<TakenSample, 'point'> = sample;
    if (last >= from && to.t[last] === sample.t) {
      given = mergeSamples({ t: sample.t, value: to.value[last]!, quality: to.quality[last]! }, sample);
      at = last;
    }
    to.pointId[at] = pointId;
    to.t[at] = given.t;
    to.value[at] = given.value;
    to.quality[at] = given.quality;
    at++;
  }
  return at;
}

/** Each point's own, by rising id; a message mostly brings many of one. */
function byPoint(samples: readonly TakenSample[]): [pointId: number, own: TakenSample[]][] {
  const lists = new Map<number, TakenSample[]>();
  let own: TakenSample[] = [];
  let id = NaN;
  for (const sample of samples) {
    if (sample.point.id !== id) {
      id = sample.point.id;
      own = lists.get(id) ?? [];
      lists.set(id, own);
    }
    own.push(sample);
  }
  return [...lists].sort(([a], [b]) => a - b);
}

function inOrder(samples: TakenSample[]): readonly TakenSample[] {
  for (let i = 1; i < samples.length; i++)
    if (samples[i - 1]!.t > samples[i]!.t) return samples.sort((a, b) => a.t - b.t);
  return samples;
}
