import { SECOND } from '../base/instant.ts';
import type { SignalName } from '../telemetry/signals.ts';
import { heardKey, type HeardNumbers, type HeardValue } from './heard.ts';

/**
 * What a value does says what it may be: never more than `probable`, for much in a building goes on and off, or lies near 24.
 * Bounds here are common practice with no source, but where one is named.
 */
export interface BehaviourGuess {
  readonly signal: SignalName;
  readonly certainty: 'probable' | 'possible';
  readonly because: string;
}

/** What else is heard from the same place, and what is known of the site's supply. */
export interface Surroundings {
  readonly contacts: readonly HeardValue[];
  /** V, of its panels */
  readonly nominalVoltages: readonly number[];
}

/** Values that must have been heard before behaviour says anything. */
const ENOUGH = 10;
const STEPS = 4;

export function guessByBehaviour(heard: HeardValue, around: Surroundings): BehaviourGuess | null {
  const { numbers, form } = heard;
  if (!numbers) return null;
  if (form === 'contact') return guessContact(heard, numbers, around.contacts);
  return form === 'number' && numbers.count >= ENOUGH ? guessMeasure(numbers, around.nominalVoltages) : null;
}

const possible = (signal: SignalName, because: string): BehaviourGuess => ({
  ...{ signal, because, certainty: 'possible' },
});
const probable = (signal: SignalName, because: string): BehaviourGuess => ({
  ...{ signal, because, certainty: 'probable' },
});

/** The output follows its call within so long; the call ends, the output with it. */
const FOLLOWS = 2 * SECOND;
/** share of changes that must have their fellow */
const MOSTLY = 0.8;

function guessContact(
  heard: HeardValue,
  numbers: HeardNumbers,
  contacts: readonly HeardValue[],
): BehaviourGuess | null {
  if (numbers.steps < STEPS) return null;
  const others = contacts.filter((one) => one !== heard && (one.numbers?.steps ?? 0) >= STEPS);
  const called = others.find((one) => isOutputOf(numbers, one.numbers!));
  if (called) {
    const name = `${called.topic}${called.pointer}`;
    return probable('compressor-output', `it goes off with ${name} and comes on with it or later`);
  }
  const output = others.find((one) => isOutputOf(one.numbers!, numbers));
  if (!output) return guessTwin(heard, numbers, others);
  const name = `${output.topic}${output.pointer}`;
  return probable('cooling-call', `${name} goes off with it and comes on with it or later`);
}

/** Two that move together at every change: a call and its output, while no start had to wait. Which is which, nobody can tell. */
function guessTwin(
  heard: HeardValue,
  numbers: HeardNumbers,
  others: readonly HeardValue[],
): BehaviourGuess | null {
  const twin = others.find((one) => moveTogether(numbers, one.numbers!));
  if (!twin) return null;
  const signal = heardKey(heard) < heardKey(twin) ? 'cooling-call' : 'compressor-output';
  const name = `${twin.topic}${twin.pointer}`;
  return possible(
    signal,
    `it moves together with ${name}: one is the call, the other its output; watch a start that waits`,
  );
}

function moveTogether(a: HeardNumbers, b: HeardNumbers): boolean {
  const since = Math.max(a.changes[0]?.[0] ?? 0, b.changes[0]?.[0] ?? 0);
  const changes = (of: HeardNumbers) => of.changes.filter(([t]) => t > since);
  const [own, other] = [changes(a), changes(b)];
  const met = own.filter(([t, v]) => other.some(([at, value]) => value === v && Math.abs(at - t) <= FOLLOWS));
  return own.length >= STEPS && met.length >= own.length * MOSTLY && met.length >= other.length * MOSTLY;
}

/**
 * Does the first follow the second as an output its call: whenever it is on, the call is; it goes off with it. A change of
 * the call that comes first, or starts that had to wait, tell the two apart.
 */
function isOutputOf(output: HeardNumbers, call: HeardNumbers): boolean {
  const since = Math.max(output.changes[0]?.[0] ?? 0, call.changes[0]?.[0] ?? 0);
  const changes = (of: HeardNumbers, value: number) =>
    of.changes.filter(([t, v]) => v === value && t > since).map(([t]) => t);
  const [offs, ons] = [changes(output, 0), changes(output, 1)];
  const [callOffs, callOns] = [changes(call, 0), changes(call, 1)];
  if (offs.length < 2 || callOffs.length < 2) return false;
  const near = (t: number, others: readonly number[], from: number, to: number) =>
    others.some((other) => other - t >= from && other - t <= to);
  const endTogether = callOffs.filter((t) => near(t, offs, 0, FOLLOWS)).length / callOffs.length;
  const underCall = ons.filter((t) => isOnAt(call, t)).length / Math.max(1, ons.length);
  const later = callOns.filter((t) => !near(t, ons, -FOLLOWS, 0) && !near(t, ons, 0, 0)).length;
  const others = offs.length - offs.filter((t) => near(t, callOffs, -FOLLOWS, 0)).length;
  return endTogether >= MOSTLY && underCall >= MOSTLY && later + others > 0;
}

const isOnAt = (of: HeardNumbers, t: number): boolean => of.changes.findLast(([at]) => at <= t)?.[1] === 1;

/** V AC of control power: 24 nominal, transformers lie between these bounds, with load and without */
const CONTROL_VOLTS = [21, 32] as const;
/** a coil without voltage, and with */
const COIL_OFF = 5;
const LINE_SHARE = 0.12;
const MOST_AMPS = 200;
/** °C */
const AIR = [-35, 70] as const;
/** share of its range that a value goes when it moves: a temperature creeps, a voltage jumps about */
const CREEPS = 0.2;
/** °C that the air behind a coil falls by and rises again */
const COIL_FALL = 8;

function guessMeasure(numbers: HeardNumbers, nominal: readonly number[]): BehaviourGuess | null {
  const { least, most, count, sum, travel, steps } = numbers;
  const mean = sum / count;
  const range = most - least;
  const creeps = steps > 0 && travel / steps / range <= CREEPS;
  const [low, high] = [least.toFixed(1), most.toFixed(1)];
  const line = nominal.find((volts) => Math.abs(mean - volts) <= volts * LINE_SHARE);
  if (line !== undefined && most > 80)
    return probable('line-voltage', `it lies about ${mean.toFixed(0)}, near the panel’s ${line} V`);
  const [lowVolts, highVolts] = CONTROL_VOLTS;
  if (least < COIL_OFF && least >= 0 && most >= lowVolts && most <= highVolts && steps >= STEPS && !creeps)
    return possible('contactor-voltage', `it goes between ${low} and ${high}, as a 24 V coil does`);
  if (mean >= lowVolts && most <= highVolts && !creeps)
    return steps >= STEPS
      ? probable(
          'control-voltage',
          `it lies between ${low} and ${high}, near 24, and jumps about as a voltage does`,
        )
      : possible('control-voltage', `it lies near 24 and hardly moves`);
  if (least >= 0 && least < 0.5 && most >= 2 && most <= MOST_AMPS && steps >= STEPS && isTwofold(numbers))
    return possible('compressor-current', `it is nothing for a while and up to ${high} then`);
  if (least < AIR[0] || most > AIR[1] || !creeps) return null;
  return range >= COIL_FALL && least < 18
    ? possible(
        'supply-air-temperature',
        `it falls to ${low} and rises to ${high} again, as air behind a coil does`,
      )
    : possible('space-temperature', `it creeps between ${low} and ${high}, as air does`);
}

/** Much of the time nothing, much of it something: its mean lies well between. */
const isTwofold = ({ sum, count, most }: HeardNumbers): boolean =>
  sum / count > most * 0.08 && sum / count < most * 0.8;
