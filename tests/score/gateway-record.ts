import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { Point, Site } from '../../shared/telemetry/site.ts';
import type { RecordPage } from '../../shared/inference/fold.ts';
import type { Dice } from './dice.ts';
import { valueAt, type Trace, type TraceSignal } from './trace.ts';

/** How gateways hear of a history: what each point tells, when it looks, what it loses. */
export interface Hearing {
  readonly site: Site;
  readonly points: readonly Point[];
  /** raw, as the gateway sees it, at an instant */
  readingOf(point: Point): Reading;
  /** every instant at which anything may have moved */
  readonly moves: readonly Instant[];
  readonly from: Instant;
  readonly to: Instant;
  /** stretches in which the gateway is dead: nothing is told of them, ever */
  readonly dead: readonly { readonly from: Instant; readonly to: Instant }[];
  /** share of a poll's period by which each poll may be late */
  readonly jitter: number;
  readonly heartbeatSeconds: number;
  /** per gateway, µs: its clock is ahead by this */
  readonly clockError: Readonly<Record<string, number>>;
}

/** One row as it came. */
export interface Heard {
  readonly t: Instant;
  readonly key: string;
  readonly value: number;
}

const SHOWN: Readonly<Record<string, TraceSignal>> = {
  'cooling-call': 'seen-call',
  'compressor-output': 'output',
  'lockout-alarm': 'alarm',
  'high-pressure': 'high',
  'low-pressure': 'low',
  'control-voltage': 'volts',
  'compressor-current': 'current',
};

export type Reading = (at: Instant) => number;

/** What a unit's point shows of its trace. */
export function unitReading(point: Point, trace: Trace): Reading {
  const signal = SHOWN[point.signal]!;
  const upstream = point.signal === 'cooling-call' && point.sense === 'upstream';
  const isShared = point.signal === 'lockout-alarm' && point.of.length > 1;
  const steps = trace[upstream ? 'want' : isShared ? 'shared-alarm' : signal];
  if (point.signal === 'control-voltage' || point.signal === 'compressor-current')
    return (at) => valueAt(steps, at);
  const asserted = point.sense === 'loop' ? loopReading(point, trace) : (at: Instant) => valueAt(steps, at);
  return point.contact === 'normally-open' ? asserted : (at) => 1 - asserted(at);
}

/** Voltage behind a switch that the call feeds: gone with the call, and for the low switch with the high one too. */
const loopReading =
  (point: Point, trace: Trace): Reading =>
  (at) => {
    const open = valueAt(trace[SHOWN[point.signal]!], at) === 1;
    const before = point.signal === 'low-pressure' && valueAt(trace.high, at) === 1;
    return +(valueAt(trace.call, at) === 0 || open || before);
  };

export function hear(hearing: Hearing, dice: Dice): Heard[] {
  const told: Heard[] = [];
  for (const gateway of hearing.site.gateways) {
    const own = hearing.points.filter((point) => point.gateway === gateway.id);
    if (own.length === 0) continue;
    const shift = hearing.clockError[gateway.id] ?? 0;
    const heard: Heard[] = [];
    scan(
      hearing,
      own.filter(({ reporting }) => reporting.mode === 'on-change'),
      dice,
      heard,
    );
    poll(hearing, own, dice, heard);
    const phase = dice.between(0, hearing.heartbeatSeconds);
    for (let t = hearing.from + seconds(phase); t < hearing.to; t += seconds(hearing.heartbeatSeconds))
      if (isAlive(hearing, t)) heard.push({ t, key: `${gateway.id}/life`, value: 1 });
    for (const { t, key, value } of heard) told.push({ t: t + shift, key, value });
  }
  return told;
}

const isAlive = ({ dead }: Hearing, t: Instant): boolean => !dead.some(({ from, to }) => t >= from && t < to);

/** Contacts are looked at every tenth of a second: a move is told at the next look, one undone before it never. */
function scan(hearing: Hearing, points: readonly Point[], dice: Dice, heard: Heard[]): void {
  if (points.length === 0) return;
  const period = seconds(0.1);
  const phase = Math.floor(dice.between(0, 1) * period);
  const lookAfter = (t: Instant): Instant => Math.ceil((t - phase) / period) * period + phase;
  for (const point of points) {
    const reading = hearing.readingOf(point);
    const key = `${point.device}/${point.signal}`;
    const looks = new Set([lookAfter(hearing.from), ...hearing.moves.map(lookAfter)]);
    for (const { to } of hearing.dead) looks.add(lookAfter(to));
    let last: number | null = null;
    for (const t of [...looks].sort((a, b) => a - b)) {
      if (t >= hearing.to || !isAlive(hearing, t)) continue;
      const value = reading(t);
      if (value !== last || hearing.dead.some(({ to }) => lookAfter(to) === t)) heard.push({ t, key, value });
      last = value;
    }
  }
}

const moves = new WeakMap<Trace, Instant[]>();
export function movesOf(trace: Trace): Instant[] {
  let found = moves.get(trace);
  if (!found)
    moves.set(
      trace,
      (found = [...new Set(Object.values(trace).flatMap(({ at }) => at))].sort((a, b) => a - b)),
    );
  return found;
}

/** Every point of one period in one look, the look a little late by chance. */
function poll(hearing: Hearing, points: readonly Point[], dice: Dice, heard: Heard[]): void {
  const periods = new Set(
    points.flatMap(({ reporting }) => (reporting.mode === 'polled' ? [reporting.seconds] : [])),
  );
  for (const period of periods) {
    const phase = dice.between(0, period);
    const polled = points.filter(
      ({ reporting }) => reporting.mode === 'polled' && reporting.seconds === period,
    );
    const readings = polled.map((point) => ({
      reading: hearing.readingOf(point),
      key: `${point.device}/${point.signal}`,
      analog: point.signal === 'control-voltage',
    }));
    for (let at = hearing.from + seconds(phase); at < hearing.to; at += seconds(period)) {
      const t =
        hearing.jitter > 0 ? at + Math.floor(dice.between(0, hearing.jitter * period) * 1_000_000) : at;
      if (!isAlive(hearing, t)) continue;
      for (const { reading, key, analog } of readings) {
        const value = reading(t);
        // a meter's last digit is never still; it doesn't carry a value over a limit here
        heard.push({ t, key, value: analog && value > 25 ? value + dice.pick([-0.1, 0, 0.1]) : value });
      }
    }
  }
}

/** Columns for a fold that reads these keys, in time order. */
export function pageOf(heard: readonly Heard[], keys: readonly string[]): RecordPage {
  const places = new Map(keys.map((key, i) => [key, i]));
  const told = heard
    .map(({ t, key, value }) => ({ t, source: places.get(key) ?? -1, value }))
    .filter(({ source }) => source >= 0)
    .sort((a, b) => a.t - b.t || a.source - b.source);
  const length = told.length;
  const page = {
    length,
    t: new Float64Array(length),
    source: new Uint16Array(length),
    value: new Float64Array(length),
    quality: new Uint8Array(length),
  };
  told.forEach(({ t, source, value }, i) => {
    page.t[i] = t;
    page.source[i] = source;
    page.value[i] = value;
  });
  return page;
}
