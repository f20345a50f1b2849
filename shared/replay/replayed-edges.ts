import { inSeconds, type Instant } from '../base/instant.ts';
import { exactly, type Span } from '../base/span.ts';
import type { ControlSettings } from '../control/settings.ts';
import { edgeOf, type EdgeDetail, type UnitEdge, type UnitEdgeKind } from '../inference/edge.ts';
import type { CarriedChange } from './carry.ts';
import type { UnitCourse } from './replay-unit.ts';

/**
 * What a replayed unit tells its panel and its space: its call and its power as they were seen, its starts, stops and waits as
 * they come replayed, and nothing known of it where the record carries nothing (inference/edge.ts has what an edge owes).
 */
export function replayedEdges(
  unit: string,
  seen: readonly UnitEdge[],
  course: UnitCourse,
  settings: ControlSettings,
): UnitEdge[] {
  const kept = seen.filter((edge) => !isOfOutput(edge));
  const edge = (kind: UnitEdgeKind, span: Span, certain: boolean, detail?: EdgeDetail): UnitEdge =>
    detail ? { unit, kind, span, certain, detail } : { unit, kind, span, certain };
  return [...kept, ...changed(course.changes, kept, settings, edge), ...knowledge(course, edge)];
}

const OF_OUTPUT: ReadonlySet<UnitEdgeKind> = new Set([
  'start',
  'stop',
  'latched',
  'released',
  'held',
  'free',
  'failed',
  'recovered',
]);

const isOfOutput = (edge: UnitEdge): boolean =>
  OF_OUTPUT.has(edge.kind) || ((edge.kind === 'known' || edge.kind === 'unknown') && edgeOf(edge) === 'run');

type MakeEdge = (kind: UnitEdgeKind, span: Span, certain: boolean, detail?: EdgeDetail) => UnitEdge;

/** A hold ends with the next start, latch or return of power, or when the call or power goes. */
function changed(
  changes: readonly CarriedChange[],
  kept: readonly UnitEdge[],
  settings: ControlSettings,
  edge: MakeEdge,
): UnitEdge[] {
  const made: UnitEdge[] = [];
  let held = false;
  let lastStart: Span | null = null;
  const free = (at: Span) => {
    if (held) made.push(edge('free', at, true));
    held = false;
  };
  for (const { at, change } of merged(changes, kept)) {
    if (!change || change.kind === 'started' || change.kind === 'latched' || change.kind === 'waiting')
      free(at);
    if (!change) continue;
    const certain = change.leansOn.length === 0;
    if (change.kind === 'held') made.push(edge('held', at, certain, heldDetail(change, lastStart, settings)));
    else if (change.kind === 'started') made.push(edge('start', at, certain, startDetail(change.reason)));
    else if (change.kind === 'stopped') made.push(edge('stop', at, certain));
    else if (change.kind === 'latched') made.push(edge('latched', at, certain));
    else if (change.kind === 'reset') made.push(edge('released', at, certain));
    if (change.kind === 'held') held = true;
    if (change.kind === 'started') lastStart = at;
  }
  return made;
}

interface Mark {
  readonly at: Span;
  /** null: the call or control power goes */
  readonly change: CarriedChange | null;
}

const merged = (changes: readonly CarriedChange[], kept: readonly UnitEdge[]): Mark[] =>
  [
    ...changes.map((change): Mark => ({ at: change.at, change })),
    ...kept
      .filter(({ kind }) => kind === 'call-off' || kind === 'power-away')
      .map(({ span }): Mark => ({ at: span, change: null })),
  ].sort((a, b) => a.at.latest - b.at.latest);

function heldDetail(
  { at, reason }: CarriedChange,
  lastStart: Span | null,
  { offDelay }: ControlSettings,
): EdgeDetail {
  const ran = lastStart && [
    inSeconds(at.earliest - lastStart.latest),
    inSeconds(at.latest - lastStart.earliest),
  ];
  const why = reason.code === 'undervoltage' ? 'undervoltage-hold' : 'soft-lockout';
  return { why, wait: [offDelay, offDelay], ran: ran as readonly [number, number] | null };
}

function startDetail(reason: CarriedChange['reason']): EdgeDetail {
  if (reason.code !== 'wait-over')
    return { planned: null, by: reason.code === 'call-came' ? 'call' : 'unknown' };
  return { planned: [reason.waited, reason.waited], by: 'wait' };
}

/** Where the record carries nothing, and where it carries something again. */
function knowledge({ stages }: UnitCourse, edge: MakeEdge): UnitEdge[] {
  const made: UnitEdge[] = [];
  let known = false;
  for (const { phase, grade, from } of stages) {
    if (grade === 'beyond' && known) made.push(edge('unknown', after(from), true, { of: 'run' }));
    if (grade !== 'beyond' && !known)
      made.push(edge('known', exactly(from), true, { of: 'run', now: phase === 'running' ? 1 : 0 }));
    known = grade !== 'beyond';
  }
  return made;
}

/** Behind a change at the same instant. */
const after = (at: Instant): Span => exactly(at + 1);
