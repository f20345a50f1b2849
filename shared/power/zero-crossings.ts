import { crestOf, jumpsIn } from './wave-course.ts';

/**
 * Zero crossings of a waveform, half a cycle apart: found in the samples where they are to be found, and carried on from
 * the last one where they aren't (an interruption, a step of phase, noise). Places are counted in samples.
 */
export interface Crossings {
  readonly crossings: readonly number[];
  /** radians from one sample to the next, by the mean distance of the crossings that were found */
  readonly angle: number;
}

/** How far beside its expected place a crossing may lie, as a share of half a cycle [our choice]. */
const NEAR = 0.15;
/** A crossing less steep than this share of the whole waveform's sine is noise of an interruption [our choice]. */
const SLIGHT = 0.02;
/** The supply's frequency is taken to lie within a tenth of its nominal value. */
const FREQUENCY_REACH = 0.1;
/** After so many crossings that weren't where they were expected, the nearest one is believed: the phase has stepped. */
const LOST_AFTER = 4;

/** `half`: samples in half a cycle at nominal frequency. */
export function zeroCrossings(values: ArrayLike<number>, half: number): Crossings {
  const rough = signChanges(values, Math.PI / half);
  const measured = meanHalf(rough, half);
  const angle = Math.PI / measured;
  const found = measured === half ? rough : signChanges(values, angle);
  return { crossings: follow(found, measured, values.length - 1), angle };
}

/** Places of sign changes, on the sinusoid through the samples on both sides; those of noise about zero left out. */
function signChanges(values: ArrayLike<number>, angle: number): number[] {
  const places: number[] = [];
  const jumps = jumpsIn(values, angle);
  const steepEnough = SLIGHT * crestOf(values) * Math.sin(angle);
  for (let i = 0; i + 1 < values.length; i++) {
    const a = values[i]!;
    const next = values[i + 1]!;
    if (Math.abs(next - a) < steepEnough) continue;
    if (a === 0 && (i === 0 || values[i - 1]! * next < 0)) places.push(i);
    else if (a * next < 0) places.push(i + crossingWithin(values, i, angle, jumps[i] === 1));
  }
  const end = values.length - 1;
  if (end > 0 && values[end] === 0 && values[end - 1] !== 0) places.push(end);
  return places;
}

/** Where the next sample is on another course (a dip that begins at the crossing), the old one tells where it crossed. */
/** Where the waveform leaves its course behind the sample (a dip that begins at the crossing), the old one tells where it crossed. */
function crossingWithin(values: ArrayLike<number>, i: number, angle: number, leaves: boolean): number {
  const [a, next] = [values[i]!, values[i + 1]!];
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const b = leaves ? (a * cos - values[i - 1]!) / sin : (next - a * cos) / sin;
  const at = Math.atan2(Math.abs(a), Math.abs(b)) / angle;
  // where the samples lie on no sinusoid of this frequency, the straight line will do
  return a * b < 0 && at < 1 ? at : a / (a - next);
}

/** Half a cycle as measured between crossings that lie about as far apart; the nominal one where there are none. */
function meanHalf(places: readonly number[], half: number): number {
  let sum = 0;
  let count = 0;
  for (let i = 1; i < places.length; i++) {
    const distance = places[i]! - places[i - 1]!;
    if (Math.abs(distance - half) > FREQUENCY_REACH * half) continue;
    sum += distance;
    count++;
  }
  return count === 0 ? half : sum / count;
}

function follow(places: readonly number[], half: number, end: number): number[] {
  const found: number[] = [];
  let next = 0;
  let missed = 0;
  for (let at = firstOf(places, half); at <= end;) {
    found.push(at);
    const expected = at + half;
    while (next + 1 < places.length && nearer(places, next + 1, next, expected)) next++;
    const place = places[next];
    const reach = missed >= LOST_AFTER ? 0.5 : NEAR;
    const isNear = place !== undefined && Math.abs(place - expected) <= reach * half && place > at;
    missed = isNear ? 0 : missed + 1;
    at = isNear ? place : expected;
  }
  return found;
}

const nearer = (places: readonly number[], a: number, b: number, to: number): boolean =>
  Math.abs(places[a]! - to) <= Math.abs(places[b]! - to);

/**
 * The first crossing that has another about half a cycle behind it, carried back to the beginning; the beginning itself
 * where there is none.
 */
function firstOf(places: readonly number[], half: number): number {
  const i = places.findIndex(
    (place, at) => at + 1 < places.length && Math.abs(places[at + 1]! - place - half) <= NEAR * half,
  );
  if (i < 0) return 0;
  const back = Math.floor(places[i]! / half + 1e-9);
  return i === 0 || back === 0 ? places[i]! : Math.max(0, places[i]! - back * half);
}
