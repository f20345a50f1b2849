import { exactly, later, type Span } from '../../base/span.ts';
import type { SignalName } from '../../telemetry/signals.ts';
import { weaker, type Certainty, type EventDraft, type Evidence } from '../event.ts';
import { EDGE_STATES, unknownWithin } from '../members/picture.ts';
import { wireOf } from '../members/wired.ts';
import { draftAbout } from '../subject-draft.ts';
import type { ClosedLoss, Loss, SpaceMoment, Unable, UnableReason } from './state.ts';

/**
 * Loss of cooling (handbook 6): cooling is wanted while too few units can run. *Reduced*: fewer able than installed;
 * *lost*: fewer than the space needs. Each stretch of one of the two is an event. It begins when the last of its
 * conditions came true: the k-th inability, which is the k-th least of both ends of their spans, and the demand.
 * Its times may still widen while an edge that overlaps them can come; until then it is tentative.
 */
export function judgeLoss(moment: SpaceMoment): void {
  const { state } = moment;
  const level = levelNow(moment);
  const was = state.loss?.level ?? null;
  if (level === was) {
    if (state.loss) state.loss.members = union(state.loss.members, Object.keys(state.unable));
    return;
  }
  const rising = level !== null && (was === null || level === 'lost');
  const start = rising ? cameTrue(moment, level) : (state.moved ?? exactly(moment.t));
  if (state.loss) state.closing.push({ ...state.loss, end: start });
  state.loss = level && newLoss(moment, level, start);
}

function levelNow({ state, place }: SpaceMoment): Loss['level'] | null {
  const installed = place.units.length;
  const unable = Object.keys(state.unable).length;
  if (!state.demand || unable === 0) return null;
  return installed - unable < neededOf(place) ? 'lost' : 'reduced';
}

export const neededOf = ({ space, units }: SpaceMoment['place']): number =>
  Math.min(space?.unitsNeeded ?? 1, units.length);

/** How many units must be unable for this level. */
const enough = ({ place }: SpaceMoment, level: Loss['level']): number =>
  level === 'reduced' ? 1 : place.units.length - neededOf(place) + 1;

function cameTrue(moment: SpaceMoment, level: Loss['level']): Span {
  const { state } = moment;
  const k = enough(moment, level) - 1;
  const since = Object.values(state.unable).map((one) => one.since);
  const nth = (end: keyof Span) => since.map((span) => span[end]).sort((a, b) => a - b)[k]!;
  return later({ earliest: nth('earliest'), latest: nth('latest') }, state.demand!.since);
}

function newLoss(moment: SpaceMoment, level: Loss['level'], start: Span): Loss {
  const { state, place } = moment;
  const first = Object.entries(state.unable)
    .sort(([, a], [, b]) => a.since.latest - b.since.latest)
    .slice(0, enough(moment, level));
  return {
    level,
    start,
    certain: state.demand!.certain && first.every(([, { certain }]) => certain) && !anyUnknown(moment),
    evidence: [...first.map(([id, unable]) => unableEvidence(moment, id, unable)), demandEvidence(moment)],
    able: place.units.length - Object.keys(state.unable).length,
    members: Object.keys(state.unable).sort(),
  };
}

const union = (a: readonly string[], b: readonly string[]): string[] => [...new Set([...a, ...b])].sort();

/** A state that is wired and wasn't known may have made it begin sooner. */
function anyUnknown({ state, place, t }: SpaceMoment): boolean {
  const silent = Object.values(state.points).some(({ track }) => track.raw === null);
  return (
    silent ||
    place.units.some((unit) => {
      const picture = state.units[unit.id];
      return EDGE_STATES.some(
        (one) => wireOf(unit, one) && (!picture || unknownWithin(picture[one], t - place.spread, t)),
      );
    })
  );
}

/** An edge has come that may lie before what was decided: those times reach back to it. */
export function widen({ state }: SpaceMoment, edge: Span): void {
  const reach = (span: Span): Span =>
    edge.earliest < span.latest && edge.earliest < span.earliest
      ? { ...span, earliest: edge.earliest }
      : span;
  if (state.loss) state.loss.start = reach(state.loss.start);
  for (const closed of state.closing) {
    closed.start = reach(closed.start);
    closed.end = reach(closed.end);
  }
}

export function lossDue({ state, place }: SpaceMoment): number | null {
  return state.closing.length > 0
    ? Math.min(...state.closing.map(({ end }) => end.latest)) + place.spread
    : null;
}

/** Settles what no further edge can touch. */
export function settleLosses(moment: SpaceMoment): void {
  const { state, place, t, out } = moment;
  const over = state.closing.filter(({ end }) => end.latest + place.spread <= t);
  if (over.length === 0) return;
  state.closing = state.closing.filter((closed) => !over.includes(closed));
  for (const closed of over) out.event(lossEvent(moment, closed, closed.end));
}

export function lossEvent(moment: SpaceMoment, loss: Loss | ClosedLoss, end: Span | null): EventDraft {
  const { context, place } = moment;
  return draftAbout(context.subject, {
    kind: 'loss-of-cooling',
    cause: loss.level,
    start: loss.start,
    end,
    certainty: weaker(loss.certain ? 'certain' : 'probable', existence(loss.start, end)),
    causeCertainty: loss.certain ? 'certain' : 'probable',
    pending: end ? [] : ['end'],
    measures: { able: loss.able, installed: place.units.length, needed: neededOf(place) },
    evidence: loss.evidence,
    members: loss.members,
  });
}

/** It may have ended before it began, and then it never was. */
const existence = (start: Span, end: Span | null): Certainty =>
  end && end.earliest <= start.latest ? 'possible' : 'certain';

const SAYS: Record<UnableReason, readonly [SignalName, string]> = {
  'hard-lockout': ['lockout-alarm', 'hard lockout'],
  'no-power': ['control-voltage', 'no control power'],
  'failed-start': ['compressor-current', 'output on, no current'],
  'undervoltage-holds': [
    'compressor-output',
    'three undervoltage holds in a row, each within 10 s of a start',
  ],
  overdue: ['cooling-call', 'its wait is over and it hasn’t started'],
  'waits-while-hot': ['compressor-output', 'waits while the space is above its limit'],
};

function unableEvidence({ place }: SpaceMoment, device: string, { since, reason }: Unable): Evidence {
  const [named, says] = SAYS[reason];
  const unit = place.unit(device);
  const wired = unit?.points.some(({ signal }) => signal === named);
  const signal = wired ? named : ((unit && wireOf(unit, 'run')?.signal) ?? named);
  return { signal, device, t: since.latest, value: null, says };
}

function demandEvidence({ state }: SpaceMoment): Evidence {
  const { since, unit, says } = state.demand!;
  const signal = unit === null ? 'space-temperature' : 'cooling-call';
  return { signal, ...(unit === null ? {} : { device: unit }), t: since.latest, value: null, says };
}
