/**
 * The course of a sampled waveform between its samples, and the integral of its square. Between two samples it is the
 * sinusoid of the supply's frequency through both: exact for a sine at any sampling rate, and hardly different from a
 * straight line where samples lie close. Places and lengths are counted in samples.
 *
 * Where the old course and the new one meet between two samples (a dip that begins at a zero crossing), the waveform turns
 * from one to the other there. Where they don't, it jumps (a dip that begins at a crest), and nothing tells where between
 * the two samples it did: wherever it was, the samples would be the same. The old course is taken to hold until the sample
 * that departs from it; so the beginning and the end of a dip are late alike.
 */
export interface Course {
  readonly values: ArrayLike<number>;
  /** radians from one sample to the next */
  readonly angle: number;
  /** the integral of the square from the first sample to each sample */
  readonly energy: Float64Array;
  /** 1: the waveform leaves its course after this sample, which is left on the course through the one before it */
  readonly jumps: Uint8Array;
}

export function courseOf(values: ArrayLike<number>, angle: number): Course {
  const energy = new Float64Array(values.length);
  const course: Course = { values, angle, energy, jumps: jumpsIn(values, angle) };
  for (let i = 0; i + 1 < values.length; i++) energy[i + 1] = energy[i]! + cellEnergy(course, i, 1);
  return course;
}

/** The integral of the square from the first sample to `place`, which needn't be a sample. */
export function energyUntil(course: Course, place: number): number {
  const cell = Math.min(Math.max(0, Math.floor(place)), course.values.length - 1);
  const part = place - cell;
  return (
    course.energy[cell]! + (part > 0 && cell + 1 < course.values.length ? cellEnergy(course, cell, part) : 0)
  );
}

/** a cos ωτ + b sin ωτ, τ from 0 to 1 between a sample and the next, ω the angle between them */
interface Arc {
  readonly a: number;
  readonly b: number;
}

/** The integral of the square over the first `part` of the cell after sample `i`. */
function cellEnergy({ values, angle, jumps }: Course, i: number, part: number): number {
  const [from, to] = [values[i]!, values[i + 1]!];
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  if (jumps[i] !== 1) return arcEnergy({ a: from, b: (to - from * cos) / sin }, angle, part);
  const before = { a: from, b: (from * cos - values[i - 1]!) / sin };
  const behind = 2 * cos * to - values[i + 2]!;
  const after = { a: behind, b: (to - behind * cos) / sin };
  const turn = meeting(before, after) / angle;
  if (part <= turn || turn >= 1) return arcEnergy(before, angle, part);
  return arcEnergy(before, angle, turn) + arcEnergy(after, angle, part) - arcEnergy(after, angle, turn);
}

/** ∫ (a cos ωτ + b sin ωτ)² dτ from 0 to `part` */
function arcEnergy({ a, b }: Arc, angle: number, part: number): number {
  const reach = angle * part;
  const double = Math.sin(2 * reach) / (4 * angle);
  return a * a * (part / 2 + double) + b * b * (part / 2 - double) + (a * b * Math.sin(reach) ** 2) / angle;
}

/** The angle, from 0 on and below π, at which two courses have one value. */
function meeting(one: Arc, other: Arc): number {
  const at = Math.atan2(other.a - one.a, one.b - other.b);
  return at < 0 ? at + Math.PI : at;
}

/** Departures smaller than this share of the crest are noise, harmonics and rounding [our choice]. */
const SMALLEST = 0.005;
/** A jump stands alone: beside it the waveform keeps its course several times better. */
const CALM = 0.25;

const MEETING = 0.02;

/** 1: after which samples does the waveform leave the sinusoid that it was on, once, and keep to another? */
export function jumpsIn(values: ArrayLike<number>, angle: number): Uint8Array {
  const jumps = new Uint8Array(values.length);
  const off = departures(values, angle);
  const least = SMALLEST * crestOf(values);
  for (let i = 1; i + 2 < values.length; i++) {
    const size = Math.max(off[i + 1]!, off[i + 2]!);
    // one of both samples lies on both courses: the sinusoid through them is one of the two
    if (size < least || Math.min(off[i + 1]!, off[i + 2]!) < MEETING * size) continue;
    if (Math.max(off[i]!, i + 3 < values.length ? off[i + 3]! : 0) < CALM * size) jumps[i] = 1;
  }
  return jumps;
}

/** How far each sample lies off the sinusoid through the two before it. */
function departures(values: ArrayLike<number>, angle: number): Float64Array {
  const off = new Float64Array(values.length);
  const twice = 2 * Math.cos(angle);
  for (let i = 2; i < values.length; i++)
    off[i] = Math.abs(values[i]! - twice * values[i - 1]! + values[i - 2]!);
  return off;
}

/** The greatest distance from zero. */
export function crestOf(values: ArrayLike<number>): number {
  let crest = 0;
  for (let i = 0; i < values.length; i++) crest = Math.max(crest, Math.abs(values[i]!));
  return crest;
}
