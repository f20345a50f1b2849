import type { Instant } from '../../shared/base/instant.ts';
import type { Interval } from '../../shared/telemetry/interval.ts';
import type { KnownGateway, KnownPoint } from '../catalogue.ts';
import type { Waited } from '../message.ts';
import type { RejectReason } from './reject.ts';

/** What one message says: every entry of it is in one of these lists (or told nothing, as an `offline` will does). */
export interface Decoded {
  readonly samples: readonly TakenSample[];
  readonly intervals: readonly TakenInterval[];
  /** kept to be looked at; what they tell is among the samples */
  readonly waveforms: readonly TakenWaveform[];
  /** values without a time that may have waited: shown, never folded */
  readonly heard: readonly HeardValue[];
  /** heartbeats, at their exact time */
  readonly heartbeats: readonly Heartbeat[];
  /** marks after which points of an edge node are no longer known: they show no life */
  readonly stale: readonly TakenSample[];
  /** metrics that no point names */
  readonly passedOver: number;
  readonly rejected: readonly Rejected[];
  /**
   * The newest time that each gateway claimed here, those set aside as lying in the future among them: what its clock is
   * judged by. Empty where the message may have waited on its way.
   */
  readonly claimed: ReadonlyMap<KnownGateway, Instant>;
}

export interface TakenSample {
  readonly point: KnownPoint;
  readonly t: Instant;
  readonly value: number;
  readonly quality: number;
}

export interface TakenInterval extends Interval {
  readonly point: KnownPoint;
}

export interface TakenWaveform {
  readonly point: KnownPoint;
  /** of its first value */
  readonly t: Instant;
  readonly stepSeconds: number;
  readonly scale: number;
  readonly values: Float32Array;
  /** when the last value's step is over */
  readonly until: Instant;
}

export interface HeardValue {
  readonly point: KnownPoint;
  readonly value: number;
  readonly why: Waited;
}

export interface Heartbeat {
  readonly gateway: KnownGateway;
  readonly t: Instant;
}

/** Entries of one signal, set aside for one reason. */
export interface Rejected {
  readonly reason: RejectReason;
  readonly detail: string;
  readonly entries: number;
  /** whole, or its first bytes: what could be sent again on the same topic */
  readonly payload: Uint8Array;
  readonly payloadBytes: number;
}
