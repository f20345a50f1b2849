import { typedValue, qualityWordOf } from './data-type.ts';
import type { Metric } from './metric.ts';
import type { Payload } from './payload.ts';
import type { SaidMetric, SparkplugRefusal } from './said.ts';

/** What a birth has told of one metric. */
interface Born {
  readonly name: string;
  readonly type: number;
}

/** The metrics of an edge node (device empty) or of a device, as its birth named them. */
export class Births {
  readonly #byName = new Map<string, Born>();
  /** null: two metrics claim it, so it names none (tck-id-payloads-alias-uniqueness) */
  readonly #byAlias = new Map<string, Born | null>();

  constructor(metrics: readonly Metric[]) {
    for (const { name, alias, type } of metrics) {
      if (name === null || type === null) continue;
      const born = { name, type };
      this.#byName.set(name, born);
      if (alias !== null) this.#byAlias.set(alias, this.#byAlias.has(alias) ? null : born);
    }
  }

  /** The metric that a message means; null: the birth has none. A name goes before an alias. */
  find({ name, alias }: Metric): Born | null {
    if (name !== null && name !== '') return this.#byName.get(name) ?? null;
    return alias === null ? null : (this.#byAlias.get(alias) ?? null);
  }
}

interface From {
  readonly device: string;
  /** null: not known, and only what says everything by itself is taken */
  readonly births: Births | null;
  readonly payload: Payload;
  readonly isBirth: boolean;
}

/** What each metric of a message says. */
export const saidMetrics = (from: From): SaidMetric[] =>
  from.payload.metrics.map((metric) => saidMetric(metric, from));

function saidMetric(metric: Metric, from: From): SaidMetric {
  const { device, births, payload } = from;
  const born = births?.find(metric) ?? null;
  const name = born?.name ?? (metric.name === '' ? null : metric.name);
  const type = metric.type ?? born?.type ?? null;
  const said = { device, name, t: metric.timestamp ?? payload.timestamp, alsoAt: restatedAt(metric, from) };
  const refuse = (refusal: SparkplugRefusal): SaidMetric => ({
    ...said,
    value: null,
    quality: 'good',
    refusal,
  });
  if (name === null || type === null) return refuse(births ? 'sparkplug-metric' : 'sparkplug-not-born');
  const quality = qualityWordOf(metric.quality);
  if (quality === null) return refuse('quality-not-known');
  if (metric.isNull) return { ...said, value: null, quality: 'bad', refusal: null };
  const typed = typedValue(type, metric.value);
  return typed.ok ? { ...said, value: typed.value, quality, refusal: null } : refuse(typed.reason);
}

/** A birth tells current values: what has an older time of its own is still so when the birth is sent. */
function restatedAt({ timestamp, isHistorical }: Metric, { payload, isBirth }: From): number | null {
  if (!isBirth || isHistorical || timestamp === null || payload.timestamp === null) return null;
  return timestamp < payload.timestamp ? payload.timestamp : null;
}
