import type { Instant } from '../../base/instant.ts';
import type { EventDraft } from '../event.ts';
import type { FoldContext } from '../fold.ts';
import type { OwnPoint } from '../members/own-points.ts';
import { placeAt } from '../members/place.ts';
import { signalOfKey } from '../members/queue.ts';
import { chainStart } from '../track.ts';
import { draftAbout } from '../subject-draft.ts';
import { spreadOver } from './ability.ts';
import { nextBreak, passEdges, type Line } from './line.ts';
import { evidenceAt, neededOf, outlookAt, type Extent, type Outlook } from './level.ts';
import type { LossLevel, LossState, Must, SpaceMoment, SpaceState, UnitLines } from './state.ts';

/**
 * Loss of cooling, swept over the lines from one end of a span to the next. A loss is a stretch in which it may be, around
 * one in which it must be: it began between the two beginnings and ends between the two ends. A stretch in which it only
 * may be is none: two edges whose spans overlap make one that perhaps never was. The sweep stays behind whatever an edge
 * can still reach back to, so what it says is exact.
 */
const LEVELS: readonly LossLevel[] = ['lost', 'reduced'];

/** Sweeps up to where no edge that is still to come can reach back to. */
export function sweepBehind(moment: SpaceMoment, frontier: Instant): void {
  const { state, context } = moment;
  let limit = frontier - spreadOver(context);
  for (const [key, own] of Object.entries(state.points))
    if (signalOfKey(key) === 'space-temperature') limit = Math.min(limit, reachOf(own, frontier));
  sweep(moment, limit);
}

/** Just before where a point's next edge may begin: a polled one's at its last good sample, else within its resolution. */
function reachOf({ track, seen, silentSince, resolution }: OwnPoint, frontier: Instant): Instant {
  if (resolution === null) return silentSince === null && seen ? seen.t - 1 : frontier;
  return Math.min(frontier - 2 * resolution, chainStart(track) ?? frontier) - 1;
}

export function sweep(moment: SpaceMoment, limit: Instant): void {
  const { state } = moment;
  for (;;) {
    const next = nextEnd(state);
    if (next > limit) return;
    state.swept = next;
    eachLine(state, (line) => passEdges(line, next));
    judgeAt(moment, next);
  }
}

function eachLine({ hotLine, lines }: SpaceState, act: (line: Line) => void): void {
  act(hotLine);
  for (const unit in lines) {
    const of = lines[unit]!;
    for (const name in of) act(of[name as keyof UnitLines]);
  }
}

/** The next end of a span in any line; Infinity: there is nothing to sweep. */
function nextEnd(state: SpaceState): Instant {
  let next = Infinity;
  eachLine(state, (line) => {
    if (line.edges.length > 0) next = Math.min(next, nextBreak(line, state.swept));
  });
  return next;
}

/** Through when everything must be known for the sweep to go on; Infinity: only a sample of its own lets it. */
export function sweepDue(state: SpaceState, context: FoldContext): Instant {
  const next = nextEnd(state);
  let due = next + spreadOver(context);
  for (const [key, own] of Object.entries(state.points)) {
    if (signalOfKey(key) !== 'space-temperature' || due === Infinity) continue;
    const { track, seen, silentSince, resolution } = own;
    const held = resolution === null ? silentSince === null && seen?.t : chainStart(track);
    if (typeof held === 'number' && next >= held) return Infinity;
    if (resolution !== null) due = Math.max(due, next + 2 * resolution + 1);
  }
  return due;
}

function judgeAt(moment: SpaceMoment, at: Instant): void {
  const { state, context } = moment;
  const outlook = outlookAt(state, placeAt(context, at), at);
  if (outlook.unknown) state.unknownAt = at;
  for (const level of LEVELS) judgeLevel(moment, level, outlook, at);
}

function judgeLevel(moment: SpaceMoment, level: LossLevel, outlook: Outlook, at: Instant): void {
  const loss = moment.state.losses[level];
  const believed = outlook.believed[level];
  const sure = outlook.sure[level];
  loss.sureSince = sure === 'not' ? null : (loss.sureSince ?? at);
  if (believed === 'not') {
    if (loss.must) moment.out.event(lossEvent(moment, level, loss.must, at));
    loss.believedSince = null;
    loss.must = null;
    return;
  }
  loss.believedSince ??= at;
  if (loss.must) goOn(loss.must, believed, sure, outlook, at);
  else if (believed === 'must') loss.must = begin(moment, loss, sure, outlook, at);
}

function goOn(must: Must, believed: Extent, sure: Extent, outlook: Outlook, at: Instant): void {
  if (believed !== 'must') must.to ??= at;
  if (must.sure && sure !== 'must') must.sure.to ??= at;
  must.members = [...new Set([...must.members, ...outlook.unable])].sort();
}

function begin(moment: SpaceMoment, loss: LossState, sure: Extent, outlook: Outlook, at: Instant): Must {
  const { state, context } = moment;
  const place = placeAt(context, at);
  const mayFrom = loss.sureSince;
  // what wasn't known may yet come, and tell that it began sooner
  const wasKnown = mayFrom !== null && (state.unknownAt === null || state.unknownAt < mayFrom);
  const known = wasKnown && !isLostBy(state, at + spreadOver(context));
  return {
    from: at,
    mayFrom: loss.believedSince!,
    to: null,
    sure: sure === 'must' && known ? { mayFrom, to: null } : null,
    evidence: evidenceAt(state, place, at),
    able: place.units.length - outlook.unable.length,
    installed: place.units.length,
    needed: neededOf(place),
    members: [...outlook.unable].sort(),
  };
}

/**
 * Does anything become unknown by then? If it comes back with what it saw, everything from then on is decided once more,
 * and so is what edges from then on can reach back to.
 */
function isLostBy(state: SpaceState, by: Instant): boolean {
  let lost = false;
  eachLine(state, ({ edges }) => {
    lost ||= edges.some(({ latest, to }) => latest <= by && !to.known);
  });
  return lost;
}

function lossEvent({ context }: SpaceMoment, level: LossLevel, must: Must, end: Instant | null): EventDraft {
  const { from, sure, able, installed, needed } = must;
  const certainty = sure ? 'certain' : 'probable';
  const until = sure ? sure.to : must.to;
  return draftAbout(context.subject, {
    kind: 'loss-of-cooling',
    cause: level,
    start: { earliest: sure ? sure.mayFrom : must.mayFrom, latest: from },
    end: end === null ? null : { earliest: until ?? end, latest: end },
    certainty,
    causeCertainty: certainty,
    pending: end === null ? ['end'] : [],
    measures: { able, installed, needed },
    evidence: must.evidence,
    members: must.members,
  });
}

/** The losses that last, as swept so far. */
export function openLosses(moment: SpaceMoment): EventDraft[] {
  return LEVELS.flatMap((level) => {
    const { must } = moment.state.losses[level];
    return must ? [lossEvent(moment, level, must, null)] : [];
  });
}
