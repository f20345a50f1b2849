import type { Instant } from '../../shared/base/instant.ts';
import { BAD, FUTURE } from '../../shared/telemetry/sample.ts';
import { correctionAt } from '../../shared/telemetry/clock-shifts.ts';
import { mayTake, type KnownGateway, type KnownPoint } from '../catalogue.ts';
import type { Message } from '../message.ts';
import type { Decoded, HeardValue, Heartbeat, TakenInterval, TakenSample, TakenWaveform } from './decoded.ts';
import { rejectedOf, type Refused } from './refusals.ts';
import type { RejectReason } from './reject.ts';
import { parseTime } from './time.ts';
import { parseQuality, parseValue } from './value.ts';

const NO_CLOCK = 24 * 3600 * 1_000_000;

/** Values of one entry as they were sent; nothing is known of their types. */
export interface Claim {
  /** undefined: none was sent, so the value is timed at arrival */
  readonly t: unknown;
  readonly v: unknown;
  readonly q: unknown;
}

const NOTHING_CLAIMED: ReadonlyMap<KnownGateway, Instant> = new Map();

type Fragment = (() => unknown) | null;

/**
 * Collects what a message says, entry by entry: each one is taken, heard, or refused with its reason, and none keeps the
 * others from being taken. `arrivalOf` gives a point's next time of arrival, strictly increasing.
 */
export class Intake {
  readonly #message: Message;
  readonly #floor: Instant;
  readonly #arrivalOf: (point: KnownPoint) => Instant;
  readonly #samples: TakenSample[] = [];
  readonly #intervals: TakenInterval[] = [];
  readonly #waveforms: TakenWaveform[] = [];
  readonly #heard: HeardValue[] = [];
  readonly #heartbeats: Heartbeat[] = [];
  readonly #stale: TakenSample[] = [];
  #passedOver = 0;
  readonly #refused: Refused[] = [];
  #claimed: Map<KnownGateway, Instant> | null = null;

  /** `floor`: what was before it comes too late */
  constructor(message: Message, arrivalOf: (point: KnownPoint) => Instant, floor: Instant) {
    this.#message = message;
    this.#floor = floor;
    this.#arrivalOf = arrivalOf;
  }

  get message(): Message {
    return this.#message;
  }

  /** `fragment`: what would say the same on this topic, if it must be set aside; null: nothing but the whole message. */
  take(point: KnownPoint, claim: Claim, fragment: Fragment): void {
    const quality = parseQuality(claim.q);
    if (quality === null) return this.refuse('quality-not-known', whereOf(point), claim.q, fragment);
    const value = valueOf(claim.v, point.kind, quality);
    if (value === null) return this.refuse('value-not-known', whereOf(point), claim.v, fragment);
    if (claim.t === undefined) return this.#takeAtArrival(point, value, quality);
    const t = parseTime(claim.t);
    if (t === null) return this.refuse('time-not-known', whereOf(point), claim.t, fragment);
    this.takeAt({ point, t, value, quality }, fragment);
  }

  /** A sample whose parts are already known to be good. */
  takeAt(sample: TakenSample, fragment: Fragment): void {
    const { point, t } = sample;
    this.#claim(point.gateway, t);
    const reason = this.#refusalAt(point, t);
    if (reason) this.refuse(reason, whereOf(point), fragment?.(), fragment);
    else this.#samples.push(sample);
  }

  takeInterval(interval: TakenInterval, fragment: () => unknown): void {
    const { point } = interval;
    this.#claim(point.gateway, interval.to);
    const reason = this.#refusalAt(point, interval.to);
    if (reason) this.refuse(reason, whereOf(point), fragment(), fragment);
    else this.#intervals.push(interval);
  }

  /** With the half-cycle values that were worked out of it: all or nothing. */
  takeWaveform(waveform: TakenWaveform, samples: readonly TakenSample[], fragment: () => unknown): void {
    const { point, until } = waveform;
    this.#claim(point.gateway, until);
    const reason = this.#refusalAt(point, until);
    if (reason) return this.refuse(reason, whereOf(point), undefined, fragment);
    this.#waveforms.push(waveform);
    for (const sample of samples) this.#samples.push(sample);
  }

  /** At the time that it claims; `arrived`: it claims none. */
  takeHeartbeat(heartbeat: Heartbeat, fragment: Fragment, arrived = false): void {
    if (!arrived) this.#claim(heartbeat.gateway, heartbeat.t);
    const reason = this.#untimely(heartbeat.gateway, heartbeat.t);
    if (reason) this.refuse(reason, 'heartbeat', fragment?.(), fragment);
    else this.#heartbeats.push(heartbeat);
  }

  /** `what` is shown beside the reason; `where` and the reason make entries one group. */
  refuse(reason: RejectReason, where: string, what: unknown, fragment: Fragment = null): void {
    this.#refused.push({ reason, where, what, fragment });
  }

  /** From here on the point is no longer known, until its next good sample. Where it may not be taken, there is nothing to end. */
  takeStale(point: KnownPoint, t: Instant): void {
    if (!this.#refusalAt(point, t)) this.#stale.push({ point, t, value: 0, quality: BAD });
  }

  /** Entries that nobody asked for. */
  passOver(entries: number): void {
    this.#passedOver += entries;
  }

  finish(): Decoded {
    const taken =
      this.#samples.length +
      this.#intervals.length +
      this.#waveforms.length +
      this.#heard.length +
      this.#heartbeats.length;
    return {
      samples: this.#samples,
      intervals: this.#intervals,
      waveforms: this.#waveforms,
      heard: this.#heard,
      heartbeats: this.#heartbeats,
      stale: this.#stale,
      passedOver: this.#passedOver,
      claimed: this.#claimed ?? NOTHING_CLAIMED,
      rejected: this.#refused.length === 0 ? [] : rejectedOf(this.#message.payload, this.#refused, taken > 0),
    };
  }

  #takeAtArrival(point: KnownPoint, value: number, quality: number): void {
    const { waited } = this.#message;
    if (waited) this.#heard.push({ point, value, why: waited });
    else this.#samples.push({ point, t: this.#arrivalOf(point), value, quality });
  }

  #refusalAt(point: KnownPoint, t: Instant): RejectReason | null {
    return this.#untimely(point.gateway, t) ?? (mayTake(point, t) ? null : 'point-not-known');
  }

  /** On the gateway's clock as its configured offsets correct it. */
  #untimely(gateway: KnownGateway, t: Instant): 'time-in-future' | 'too-late' | null {
    const at = t + correctionAt(gateway.shifts, t);
    if (at > this.#message.receivedAt + FUTURE) return 'time-in-future';
    return at < this.#floor ? 'too-late' : null;
  }

  /** A time so far ahead is no clock's: another measure of time, or nonsense. */
  #claim(gateway: KnownGateway, t: Instant): void {
    const { receivedAt, waited } = this.#message;
    if (waited || t > receivedAt + NO_CLOCK || t <= (this.#claimed?.get(gateway) ?? -Infinity)) return;
    this.#claimed ??= new Map();
    this.#claimed.set(gateway, t);
  }
}

const whereOf = ({ device, signal }: KnownPoint): string => `${device}/${signal}`;

/** A sample said to be bad may come without a number: it is kept as 0, which decides nothing. */
function valueOf(given: unknown, kind: KnownPoint['kind'], quality: number): number | null {
  if (quality === BAD && (given === null || given === undefined)) return 0;
  return parseValue(given, kind);
}
