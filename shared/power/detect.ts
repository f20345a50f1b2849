import { inSeconds, type Instant } from '../base/instant.ts';
import { USUAL_LIMITS, type Excursion, type ExcursionKind, type ExcursionLimits } from './excursion.ts';
import { halfCycleRms, type Waveform } from './rms.ts';
import { besideReference, noteStep, type SlidingReference } from './sliding-reference.ts';

/**
 * Dips, swells and interruptions in Urms(1/2) values of one channel or several [IEC 61000-4-30, handbook 5.1]:
 *
 *   sag           from the first value below 90 % on any channel until all are at or above 92 %
 *   swell         from the first value above 110 % on any channel until all are at or below 108 %
 *   interruption  from when all channels are below 10 % until any one is at or above 12 %
 *
 * A value belongs to its instant; between two instants the earlier one's holds. Channels may come one by one: each keeps
 * its last value. The state is plain JSON. Whoever has values of which some are missing says so by beginning anew.
 */
export interface Detection {
  /** every channel there is: an interruption is one of all of them */
  readonly channels: readonly string[];
  readonly limits: ExcursionLimits;
  /** last value of each channel, per unit of the reference, and per unit of declared */
  readonly values: Record<string, { beside: number; declared: number }>;
  readonly open: Record<ExcursionKind, OpenExcursion | null>;
  /** null: the declared voltage itself is the reference */
  readonly sliding: SlidingReference | null;
}

interface OpenExcursion {
  readonly start: Instant;
  residual: number;
  channels: string[];
}

/** Values of one instant, per unit of declared voltage, by channel. */
export type RmsStep = Readonly<Record<string, number>>;

const newDetection = (
  channels: readonly string[],
  limits: ExcursionLimits,
  sliding: SlidingReference | null,
): Detection => ({
  channels,
  limits,
  values: {},
  open: { sag: null, swell: null, interruption: null },
  sliding,
});

const KINDS: readonly ExcursionKind[] = ['interruption', 'sag', 'swell'];

/** Takes the values of an instant, later than any before. Answers what they end, interruptions first. */
function takeStep(detection: Detection, t: Instant, step: RmsStep): Excursion[] {
  for (const channel in step) {
    const declared = step[channel]!;
    detection.values[channel] = { declared, beside: besideReference(detection.sliding, channel, declared) };
  }
  const ended: Excursion[] = [];
  for (const kind of KINDS) {
    const excursion = takeKind(detection, kind, t);
    if (excursion) ended.push(excursion);
  }
  if (detection.sliding)
    noteStep(
      detection.sliding,
      step,
      KINDS.some((kind) => detection.open[kind] !== null),
    );
  return ended;
}

/** What hasn't ended: `end` and `seconds` are null. */
const openExcursions = (detection: Detection): Excursion[] =>
  KINDS.flatMap((kind) => {
    const open = detection.open[kind];
    return open ? [excursionOf(kind, open, null)] : [];
  });

function takeKind(detection: Detection, kind: ExcursionKind, t: Instant): Excursion | null {
  const { limits, open } = detection;
  const values = Object.entries(detection.values);
  const out = values.filter(([, { beside }]) => isBeyond(kind, limits, beside)).map(([channel]) => channel);
  const begins = kind === 'interruption' ? out.length === detection.channels.length : out.length > 0;
  if (open[kind] === null && begins) open[kind] = { start: t, residual: NaN, channels: [] };
  const was = open[kind];
  if (!was) return null;
  const back = ({ beside }: { beside: number }): boolean => isBack(kind, limits, beside);
  const over =
    kind === 'interruption'
      ? values.some(([, value]) => back(value))
      : values.every(([, value]) => back(value));
  if (over) {
    open[kind] = null;
    return excursionOf(kind, was, t);
  }
  was.channels = [...new Set([...was.channels, ...out])].sort();
  for (const [, { declared }] of values) was.residual = worse(kind, was.residual, declared);
  return null;
}

/** Is the value past the threshold at which such an excursion begins? */
function isBeyond(kind: ExcursionKind, limits: ExcursionLimits, value: number): boolean {
  if (kind === 'sag') return value < limits.sagBelow;
  return kind === 'swell' ? value > limits.swellAbove : value < limits.interruptionBelow;
}

/**
 * Is the value far enough back to end it? Sums of two decimal thresholds are compared a little generously: 0.9 + 0.02 must
 * end at a value read as 0.92.
 */
function isBack(kind: ExcursionKind, limits: ExcursionLimits, value: number): boolean {
  if (kind === 'swell') return value <= limits.swellAbove - limits.hysteresis + ROUNDING;
  const threshold = kind === 'sag' ? limits.sagBelow : limits.interruptionBelow;
  return value >= threshold + limits.hysteresis - ROUNDING;
}
const ROUNDING = 1e-12;

const worse = (kind: ExcursionKind, a: number, b: number): number =>
  Number.isNaN(a) ? b : kind === 'swell' ? Math.max(a, b) : Math.min(a, b);

const excursionOf = (kind: ExcursionKind, open: OpenExcursion, end: Instant | null): Excursion => ({
  kind,
  start: open.start,
  end,
  residual: open.residual,
  seconds: end === null ? null : inSeconds(end - open.start),
  channels: open.channels,
});

/** Urms(1/2) values of one channel, per unit of declared voltage, in time order. */
export interface ChannelSeries {
  readonly t: ArrayLike<Instant>;
  readonly values: ArrayLike<number>;
}

/**
 * Every excursion of a whole record, by start, then interruptions first; those that haven't ended with `end` null. Each
 * channel has instants of its own.
 */
export function excursionsIn(
  channels: Readonly<Record<string, ChannelSeries>>,
  limits: ExcursionLimits = USUAL_LIMITS,
  sliding: SlidingReference | null = null,
): Excursion[] {
  const detection = newDetection(Object.keys(channels), limits, sliding);
  const found = stepsOf(channels).flatMap(([t, step]) => takeStep(detection, t, step));
  return [...found, ...openExcursions(detection)].sort(
    (a, b) => a.start - b.start || KINDS.indexOf(a.kind) - KINDS.indexOf(b.kind),
  );
}

/** Values of all channels, those of one instant together, in time order. */
function stepsOf(channels: Readonly<Record<string, ChannelSeries>>): [Instant, Record<string, number>][] {
  const steps = new Map<Instant, Record<string, number>>();
  for (const [channel, { t, values }] of Object.entries(channels))
    for (let i = 0; i < t.length; i++) {
      const step = steps.get(t[i]!);
      if (step) step[channel] = values[i]!;
      else steps.set(t[i]!, { [channel]: values[i]! });
    }
  return [...steps].sort(([a], [b]) => a - b);
}

/** The same from waveforms in volts, one for each channel. `declared` in volts, `frequency` in Hz. */
export function excursionsInWaveforms(
  waveforms: Readonly<Record<string, Waveform>>,
  declared: number,
  frequency: number,
  limits: ExcursionLimits = USUAL_LIMITS,
): Excursion[] {
  const series = Object.entries(waveforms).map(([channel, waveform]) => {
    const { t, rms } = halfCycleRms(waveform, frequency);
    return [channel, { t, values: rms.map((volts) => volts / declared) }] as const;
  });
  return excursionsIn(Object.fromEntries(series), limits);
}
