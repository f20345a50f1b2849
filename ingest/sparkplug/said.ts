import type { Instant } from '../../shared/base/instant.ts';

/**
 * What a Sparkplug message says once its place in its edge node's session is known: names in place of aliases, types from the
 * birth. It doesn't depend on the configuration, so decoding may be done again.
 */
export interface Said {
  readonly group: string;
  readonly edge: string;
  /** Unix ms: the edge node lived when it sent this; null: its message says nothing of the kind (a death, a copy) */
  readonly livedAt: number | null;
  readonly metrics: readonly SaidMetric[];
  /** what is no longer known, and from when on */
  readonly stale: readonly Stale[];
  /** the whole message can't be taken */
  readonly refused: SparkplugRefusal | null;
}

export interface SaidMetric {
  /** empty: the edge node itself */
  readonly device: string;
  /** null: it has an alias that nothing names */
  readonly name: string | null;
  /** Unix ms; null: it is timed at arrival */
  readonly t: number | null;
  /** Unix ms: a birth says that it was so when the birth was sent, too; null: no more than `t` says */
  readonly alsoAt: number | null;
  readonly value: number | boolean | string | null;
  readonly quality: 'good' | 'bad';
  readonly refusal: SparkplugRefusal | null;
}

export interface Stale {
  /** null: the edge node and all its devices */
  readonly device: string | null;
  readonly t: Instant;
}

export type SparkplugRefusal =
  /** the edge node's birth isn't known here, so neither are its aliases and types */
  | 'sparkplug-not-born'
  /** it came after messages before it had been given up */
  | 'sparkplug-out-of-order'
  | 'sparkplug-sequence'
  | 'sparkplug-metric'
  | 'sparkplug-type'
  | 'value-not-known'
  | 'quality-not-known'
  | 'payload-empty'
  | 'payload-too-large'
  | 'payload-not-sparkplug'
  | 'topic-not-known';
