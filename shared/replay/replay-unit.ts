import type { Instant } from '../base/instant.ts';
import { powerUpDelay, type ControlSettings } from '../control/settings.ts';
import type { UnitPhase } from '../inference/standing.ts';
import type { Edge } from '../inference/track.ts';
import { aligned, type Aligned, type Change } from './align.ts';
import { carry, type Beyond, type CarriedChange } from './carry.ts';
import { departuresOf, type Line } from './departures.ts';
import { coursesOf, type Course } from './drive.ts';
import type { Inputs } from './inputs.ts';
import { edgesBetween, valueAt } from './seen-history.ts';
import { segmentsOf, type Segment } from './segments.ts';

/**
 * One unit's seen inputs through the reference control with given settings: what its output would have been, as far as the
 * record carries that. Times are intervals that hold every history that fits the samples.
 */
export interface UnitCourse {
  /** in time order */
  readonly changes: readonly CarriedChange[];
  /** from begin to end of the stretch without a gap */
  readonly stages: readonly Stage[];
  readonly beyond: readonly Beyond[];
}

/** A phase as it is drawn: in the middle of every interval. */
export interface Stage {
  readonly phase: UnitPhase;
  readonly from: Instant;
  readonly to: Instant;
  readonly grade: 'carried' | 'leans' | 'beyond';
}

export interface Stretch {
  readonly from: Instant;
  readonly through: Instant;
}

/** `settings`: every control that the settings leave open. Breathes after each segment. */
export function* replayUnit(
  inputs: Inputs,
  output: readonly Edge[],
  settings: readonly ControlSettings[],
  { from, through }: Stretch,
): Generator<Instant, UnitCourse> {
  const longest = (length: (one: ControlSettings) => number) => Math.max(...settings.map(length));
  const segments = segmentsOf(inputs, output, {
    from,
    through,
    settleSeconds: longest((one) => Math.max(one.offDelay, powerUpDelay(one))),
    holdUpSeconds: longest(({ holdUp }) => holdUp),
  });
  const parts: Part[] = [];
  for (const segment of segments) {
    parts.push(replaySegment(inputs, output, settings, segment));
    yield segment.to;
  }
  return together(parts, { from, through });
}

interface Part extends UnitCourse {
  readonly segment: Segment;
}

function replaySegment(
  inputs: Inputs,
  output: readonly Edge[],
  settings: readonly ControlSettings[],
  segment: Segment,
): Part {
  const { from, to, begins } = segment;
  const courses = coursesOf(inputs, segment, settings);
  const found = aligned(courses, to);
  const changes = [...found.before, ...found.after].filter(
    ({ at }) => begins !== 'running' || at.latest > from,
  );
  const replayed: Line = { first: begins === 'running', changes: switchings(changes), open: found.open };
  const seen: Line = { first: valueAt(output, from) === 1, changes: seenSwitchings(output, segment) };
  const carried = carry(inputs, segment, changes, departuresOf(replayed, seen, from, to));
  const beyond = [...carried.beyond, ...openOf(found)].sort((a, b) => a.from - b.from);
  return {
    segment,
    changes: carried.changes.filter(
      ({ at }) => !found.open || at.latest <= found.open.from || at.earliest >= found.open.to,
    ),
    beyond,
    stages: stagesOf(courses[0]!, segment, carried.leansFrom, beyond),
  };
}

const openOf = ({ open }: Aligned): Beyond[] => (open ? [{ ...open, why: 'order-not-known' }] : []);

const switchings = (changes: readonly Change[]): Line['changes'] =>
  changes.flatMap(({ kind, at }) =>
    kind === 'started' || kind === 'stopped' ? [{ at, on: kind === 'started' }] : [],
  );

const seenSwitchings = (output: readonly Edge[], { from, to }: Segment): Line['changes'] =>
  edgesBetween(output, from, to).flatMap((edge) =>
    edge.to === null || edge.from === null ? [] : [{ at: edge, on: edge.to === 1 }],
  );

function stagesOf(
  { phases }: Course,
  { from, to }: Segment,
  leansFrom: Instant | null,
  beyond: readonly Beyond[],
): Stage[] {
  const marks = [
    ...phases.map(({ at }) => at),
    ...beyond.flatMap((one) => [one.from, one.to]),
    ...(leansFrom === null ? [] : [leansFrom]),
  ];
  const inside = [...new Set([from, ...marks.filter((at) => at > from && at < to), to])].sort(
    (a, b) => a - b,
  );
  return inside.slice(1).map((end, i) => {
    const begin = inside[i]!;
    if (beyond.some((one) => one.from < end && one.to > begin))
      return { phase: 'not-known', from: begin, to: end, grade: 'beyond' };
    const phase = phases.findLast(({ at }) => at <= begin)!.phase;
    const leans = leansFrom !== null && begin >= leansFrom;
    return { phase, from: begin, to: end, grade: leans ? 'leans' : 'carried' };
  });
}

/** The segments in a row, with what lies between them. */
function together(parts: readonly Part[], { from, through }: Stretch): UnitCourse {
  const gaps: Beyond[] = [];
  let at = from;
  let lost = false;
  for (const { segment } of parts) {
    if (segment.from > at) gaps.push({ from: at, to: segment.from, why: lost ? 'signal-lost' : 'not-begun' });
    at = segment.to;
    lost = segment.lost;
  }
  if (at < through) gaps.push({ from: at, to: through, why: lost ? 'signal-lost' : 'not-begun' });
  const unknown = gaps.map((gap): Stage => ({
    phase: 'not-known',
    from: gap.from,
    to: gap.to,
    grade: 'beyond',
  }));
  return {
    changes: parts.flatMap(({ changes }) => changes),
    beyond: [...parts.flatMap(({ beyond }) => beyond), ...gaps].sort((a, b) => a.from - b.from),
    stages: [...parts.flatMap(({ stages }) => stages), ...unknown].sort((a, b) => a.from - b.from),
  };
}
