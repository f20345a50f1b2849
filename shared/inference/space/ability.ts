import { seconds, type Instant } from '../../base/instant.ts';
import { exactly, overlap, shifted, type Span } from '../../base/span.ts';
import type { Unit } from '../../telemetry/site.ts';
import { edgeOf, type UnitEdge } from '../edge.ts';
import type { FoldContext } from '../fold.ts';
import { newPicture, takeIntoPicture, type UnitPicture } from '../members/picture.ts';
import { placeAt, placeIn } from '../members/place.ts';
import { wireOf } from '../members/wired.ts';
import { lastLevel, pushEdge, type Level, type Line } from './line.ts';
import { newLines, type Beside, type SpaceMoment, type SpaceState, type UnitLines } from './state.ts';
import { powerUpOver, startDue, waitsAt } from './waits.ts';

/**
 * Which units can't run (handbook 6): hard lockout, no power, failed start, three undervoltage holds in a row each within
 * 10 s of a start; and waits that end by themselves once overdue, or while the space is above its limit. Edges go into
 * lines, one for each of these; a line that leans on a setting is unsure.
 */
const HOLDS_IN_ROW = 3;
/** a run that lasted so long wasn't dropped at its start, µs */
const OUTLASTED = seconds(10);

export function takeUnitEdge(moment: SpaceMoment, edge: UnitEdge): void {
  const { state, context } = moment;
  const picture = (state.units[edge.unit] ??= newPicture());
  const span = narrowed(edge.span, spreadOver(context));
  const called = edge.kind === 'power-away' && wasCalled(picture, span);
  takeIntoPicture(picture, edge);
  reach(moment, span);
  const lines = linesOf(state, edge.unit);
  draw(lines, edge, span);
  followCall(lines, picture, edge, span, called);
  followHolds(lines, besideOf(state, edge.unit), picture, edge, span);
}

export const linesOf = (state: SpaceState, unit: string): UnitLines => (state.lines[unit] ??= newLines());
const besideOf = (state: SpaceState, unit: string): Beside =>
  (state.beside[unit] ??= { callOff: null, dropping: false });

const spreads = new WeakMap<FoldContext, number>();

/** No edge reaches back further than this behind its latest instant, in any version of the site, µs. */
export function spreadOver(context: FoldContext): number {
  let spread = spreads.get(context);
  if (spread === undefined) {
    spread = Math.max(...context.history.map(({ site }) => placeIn(site, context.subject).spread));
    spreads.set(context, spread);
  }
  return spread;
}

const narrowed = (span: Span, spread: number): Span => ({
  earliest: Math.max(span.earliest, span.latest - spread),
  latest: span.latest,
});

/** What is applied at this instant happened within this span. */
export function reach(moment: SpaceMoment, { earliest, latest }: Span): void {
  const { moved } = moment;
  moment.moved = moved
    ? { earliest: Math.min(moved.earliest, earliest), latest: Math.max(moved.latest, latest) }
    : { earliest, latest };
}

/** The lines that an edge is itself. */
function draw(lines: UnitLines, edge: UnitEdge, span: Span): void {
  const sure = edge.certain;
  const set = (line: Line, so: boolean): void => change(line, span, { so, sure });
  switch (edge.kind) {
    case 'start':
      return set(lines.run, true);
    case 'stop':
      set(lines.failed, false);
      return set(lines.run, false);
    case 'power-away':
      set(lines.latched, false);
      set(lines.failed, false);
      return set(lines.powerless, true);
    case 'power-back':
      return set(lines.powerless, false);
    case 'call-on':
      return set(lines.call, true);
    case 'call-off':
      return set(lines.call, false);
    case 'latched':
      return set(lines.latched, true);
    case 'released':
      return set(lines.latched, false);
    case 'failed':
      return set(lines.failed, true);
    case 'recovered':
      return set(lines.failed, false);
    case 'unknown':
      return pushEdge(lineFor(lines, edge), exactly(span.latest), { known: false });
    case 'known':
      return pushEdge(lineFor(lines, edge), exactly(span.latest), { so: knownAs(edge), since: null });
    default:
      return undefined;
  }
}

const lineFor = (lines: UnitLines, edge: UnitEdge): Line =>
  ({ run: lines.run, power: lines.powerless, call: lines.call })[edgeOf(edge)];

const knownAs = (edge: UnitEdge): boolean => (edge.detail?.['now'] === 1) !== (edgeOf(edge) === 'power');

/** An edge to what the line already is tells nothing. */
function change(line: Line, span: Span, to: Partial<Level>): void {
  const last = lastLevel(line);
  if (last.so !== to.so || !last.known) pushEdge(line, span, to);
}

/** Called, or running, when power went; a call that went with the power counts (handbook 4 rule 2, power first). */
function wasCalled({ call, run }: UnitPicture, away: Span): boolean {
  const known = call.on === null ? run : call;
  return known.on === true || (known.on === false && known.since !== null && overlap(known.since, away));
}

function followCall(
  { calledAtLoss }: UnitLines,
  { power }: UnitPicture,
  edge: UnitEdge,
  span: Span,
  called: boolean,
): void {
  if (called) change(calledAtLoss, span, { so: true, sure: false });
  const outlived =
    edge.kind === 'call-off' && power.on === false && !(power.since && overlap(power.since, span));
  if (edge.kind === 'power-back' || outlived) change(calledAtLoss, span, { so: false });
}

function followHolds(
  { dropping }: UnitLines,
  beside: Beside,
  { holdsInRow }: UnitPicture,
  edge: UnitEdge,
  span: Span,
): void {
  if (edge.kind === 'call-off') beside.callOff = edge.span;
  if (edge.kind === 'held' && holdsInRow >= HOLDS_IN_ROW) setDropping(beside, dropping, span, true);
  if (edge.kind === 'power-away' || edge.kind === 'call-off') setDropping(beside, dropping, span, false);
}

function setDropping(beside: Beside, line: Line, span: Span, so: boolean): void {
  beside.dropping = so;
  change(line, span, { so });
}

/** Works out anew, once an instant's rows are applied or something is due, what only follows from them. */
export function judgeWaits(moment: SpaceMoment): void {
  const { state, place } = moment;
  for (const unit of place.units) {
    const picture = state.units[unit.id];
    if (!picture) continue;
    passDropping(moment, unit, picture);
    judgeWait(moment, unit, picture);
  }
}

function passDropping({ state, t }: SpaceMoment, unit: Unit, { run }: UnitPicture): void {
  const beside = besideOf(state, unit.id);
  if (!beside.dropping || !run.on || !run.since || run.since.latest + OUTLASTED > t) return;
  setDropping(beside, linesOf(state, unit.id).dropping, shifted(run.since, OUTLASTED), false);
}

function judgeWait(moment: SpaceMoment, unit: Unit, picture: UnitPicture): void {
  const { state, context, t } = moment;
  const beside = besideOf(state, unit.id);
  const { waiting } = linesOf(state, unit.id);
  const now = moment.moved ?? exactly(t);
  const due = startDue(asSetBefore(moment, unit), picture, beside);
  if (due !== null && due + spreadOver(context) <= t)
    return change(waiting, exactly(due), { so: true, sure: false, why: 'overdue' });
  if (state.hot === null || !waitsAt(unit, picture, beside, t)) return change(waiting, now, { so: false });
  change(waiting, untilSeen(unit, now), { so: true, sure: false, why: 'waits-while-hot' });
}

/** What isn't polled to run may have started, and stopped again, since it was last asked: it waits by the next time. */
function untilSeen(unit: Unit, { earliest, latest }: Span): Span {
  const reporting = wireOf(unit, 'run')?.reporting;
  return { earliest, latest: latest + (reporting?.mode === 'polled' ? seconds(reporting.seconds) : 0) };
}

/**
 * The unit with the settings that held when a wait that is found overdue now was over: that an edge may still come holds the
 * judgement back, and settings changed meanwhile are none of its business.
 */
const asSetBefore = ({ context, t }: SpaceMoment, unit: Unit): Unit =>
  placeAt(context, t - spreadOver(context)).unit(unit.id) ?? unit;

/** When something may next follow without an edge; null: nothing will. */
export function waitsDue(moment: SpaceMoment): Instant | null {
  const { state, context, place, t } = moment;
  let due: Instant | null = null;
  const add = (at: Instant): void => {
    if (at > t && (due === null || at < due)) due = at;
  };
  for (const unit of place.units) {
    const picture = state.units[unit.id];
    if (!picture) continue;
    const beside = besideOf(state, unit.id);
    for (const set of new Set([unit, asSetBefore(moment, unit)])) {
      const start = startDue(set, picture, beside);
      if (start !== null) add(start + spreadOver(context));
    }
    if (beside.dropping && picture.run.on && picture.run.since) add(picture.run.since.latest + OUTLASTED);
    if (state.hot && picture.call.on === null) add(powerUpOver(unit, picture));
  }
  return due;
}
