import { inSeconds } from '../../base/instant.ts';
import { elapsed, type Span } from '../../base/span.ts';
import type { Unit } from '../../telemetry/site.ts';
import type { Certainty, EventDraft, Evidence, Measure } from '../event.ts';
import { unknownWithin } from '../members/picture.ts';
import { placeAt } from '../members/place.ts';
import { clockDoubt, wireOf } from '../members/wired.ts';
import { draftAbout } from '../subject-draft.ts';
import { anyAwaited, lastReturn, returnOf } from './sequence.ts';
import { spacingBounds, spacingVerdict, tellingPeriod, type SpacingVerdict } from './spacing.ts';
import type { PanelMoment, Restart, Sequence } from './state.ts';
import { isSupplyKnown, levelOf } from './supply.ts';

/**
 * The restart sequence as an event. Measures, all counted from the power's return in seconds where they are times:
 * `<unit>.outcome`, `<unit>.plannedSeconds`, `<unit>.startedSeconds`, `<unit>.deviationSeconds`, `<unit>.setBy`; for
 * neighbours in the order of their starts `<unit>><unit>.spacingSeconds`, `.verdict` and, where it can't be told,
 * `.tellingPeriodSeconds` (0: only reporting on change tells). Starts set by the call take no part in the verdict.
 */
export function closeSequence(moment: PanelMoment): void {
  const event = sequenceEvent(moment);
  if (event) moment.out.event(event);
  moment.state.sequence = null;
}

/** The moment under the settings that held when power came back: the waits began then, whatever is recorded later. */
export function atReturn(moment: PanelMoment): PanelMoment {
  const { sequence } = moment.state;
  const back = sequence ? lastReturn(sequence) : -Infinity;
  return back === -Infinity ? moment : { ...moment, place: placeAt(moment.context, back) };
}

/** Null where it was one unit's own loss, or nothing tells that power came back. */
export function sequenceEvent(now: PanelMoment): EventDraft | null {
  const moment = atReturn(now);
  const { state, context } = moment;
  const sequence = state.sequence!;
  const start = returnOf(sequence);
  const certainty = start && certaintyOf(moment, sequence, start);
  if (!start || !certainty) return null;
  const members = membersIn(sequence);
  return draftAbout(context.subject, {
    kind: 'restart-sequence',
    cause: null,
    start,
    end: anyAwaited(sequence) ? null : endOf(sequence, start),
    certainty,
    pending: anyAwaited(sequence) ? ['end'] : [],
    measures: measuresOf(moment, sequence, start),
    evidence: evidenceOf(moment, sequence),
    members: members.map(([id]) => id),
  });
}

type Named = readonly [id: string, restart: Restart];

const membersIn = (sequence: Sequence): Named[] =>
  Object.entries(sequence.members)
    .filter(([, { outcome }]) => outcome !== 'not-lost')
    .sort(([a], [b]) => (a < b ? -1 : 1));

/** The last awaited start or its overdue time; the return itself where none was awaited. */
function endOf(sequence: Sequence, start: Span): Span {
  const at = Object.values(sequence.members).flatMap((one) => (one.at ? [one.at] : []));
  if (at.length === 0) return start;
  return {
    earliest: Math.max(...at.map(({ earliest }) => earliest)),
    latest: Math.max(...at.map(({ latest }) => latest)),
  };
}

/**
 * Did the power of the panel go, or of one unit alone? The panel's own points or every unit on it say so for certain; some
 * units of several are probable (a common breaker), a single wired one is possible. Where a run can't be seen, or a delay
 * only overran its recorded length, the end isn't certain.
 */
function certaintyOf({ state, place }: PanelMoment, sequence: Sequence, start: Span): Certainty | null {
  const lost = Object.values(sequence.members).filter(({ loss, back }) => loss && back);
  const wired = place.units.filter((unit) => wireOf(unit, 'power'));
  const all = wired.every(({ id }) => sequence.members[id]?.loss);
  const seen = Object.values(sequence.members);
  const firm =
    lost.every(({ certain }) => certain) &&
    !seen.some(({ outcome }) => outcome === 'overdue' || outcome === 'not-known') &&
    !place.units.some(({ id }) => hidden(state.units[id], start)) &&
    // what its gateway still holds back may belong to this sequence
    !place.units.some((unit) => sequence.members[unit.id] && isOutOfSight(unit, state.units[unit.id])) &&
    isSupplyKnown(state, place);
  if (sequence.supply && (lost.length > 0 || wired.length < place.units.length))
    return firm && sequence.supply.by === 'line' ? 'certain' : 'probable';
  if (lost.length === 0) return null;
  if (all && lost.length > 1) return firm && wired.length === place.units.length ? 'certain' : 'probable';
  if (lost.length > 1) return 'probable';
  return all ? 'possible' : null;
}

const hidden = (picture: PanelMoment['state']['units'][string] | undefined, start: Span): boolean =>
  !picture || unknownWithin(picture.run, start.earliest, start.latest);

const isOutOfSight = (unit: Unit, picture: PanelMoment['state']['units'][string] | undefined): boolean =>
  (wireOf(unit, 'run') !== null && picture?.run.on == null) ||
  (wireOf(unit, 'power') !== null && picture?.power.on == null);

function measuresOf(moment: PanelMoment, sequence: Sequence, start: Span): Record<string, Measure> {
  const { state, place } = moment;
  const members = membersIn(sequence);
  const lost = members.flatMap(([, { loss }]) => (loss ? [loss] : []));
  const generator = levelOf(state.points, 'generator-running');
  const measures: Record<string, Measure> = {
    units: members.length,
    restarted: members.filter(([, { outcome }]) => outcome === 'started').length,
    supply: generator === null ? 'not known' : generator === 1 ? 'generator' : 'utility',
  };
  if (lost.length > 0) {
    measures['outages'] = Math.max(...lost.map(({ count }) => count));
    measures['outageSeconds'] = elapsed(firstOf(lost.map(({ first }) => first)), start).map((s) =>
      Math.max(0, s),
    ) as unknown as readonly [number, number];
  }
  for (const [id, restart] of members) describe(measures, id, restart, start);
  compare(measures, moment, members);
  const minimum = place.panel?.minimumStartSeparationSeconds;
  if (minimum !== undefined) measures['minimumSeparationSeconds'] = minimum;
  return measures;
}

const firstOf = (spans: readonly Span[]): Span => ({
  earliest: Math.min(...spans.map(({ earliest }) => earliest)),
  latest: Math.min(...spans.map(({ latest }) => latest)),
});

function describe(measures: Record<string, Measure>, id: string, restart: Restart, start: Span): void {
  const { outcome, planned, at, by } = restart;
  measures[`${id}.outcome`] = outcome;
  if (planned) measures[`${id}.plannedSeconds`] = elapsed(start, planned);
  if (outcome !== 'started' || !at) return;
  measures[`${id}.startedSeconds`] = elapsed(start, at);
  if (planned) measures[`${id}.deviationSeconds`] = elapsed(planned, at);
  measures[`${id}.setBy`] = by;
}

/** Neighbours in the order of their starts; the whole is no better than its worst pair. */
function compare(measures: Record<string, Measure>, moment: PanelMoment, members: readonly Named[]): void {
  const { place } = moment;
  const minimum = place.panel?.minimumStartSeparationSeconds ?? 0;
  const waited = members
    .filter(([, { outcome, by }]) => outcome === 'started' && by === 'wait')
    .sort(([, a], [, b]) => a.at!.latest - b.at!.latest || a.at!.earliest - b.at!.earliest);
  const verdicts = waited.slice(1).map((one, i) => comparePair(measures, moment, waited[i]!, one, minimum));
  if (verdicts.length === 0) return;
  measures['verdict'] = (['simultaneous', 'cannot-be-told', 'separate'] as const).find((verdict) =>
    verdicts.includes(verdict),
  )!;
}

function comparePair(
  measures: Record<string, Measure>,
  { place }: PanelMoment,
  [first, a]: Named,
  [second, b]: Named,
  minimum: number,
): SpacingVerdict {
  const doubt = clockDoubt(place.site, wireIn(place.unit(first)), wireIn(place.unit(second)));
  const bounds = spacingBounds({ a: a.at!, b: b.at!, doubt });
  const verdict = spacingVerdict(bounds, minimum);
  const name = `${first}>${second}`;
  measures[`${name}.spacingSeconds`] = bounds;
  measures[`${name}.verdict`] = verdict;
  if (verdict === 'cannot-be-told') {
    const apart = inSeconds(Math.abs(middle(b.planned ?? b.at!) - middle(a.planned ?? a.at!)));
    measures[`${name}.tellingPeriodSeconds`] = tellingPeriod(apart, minimum);
  }
  return verdict;
}

const middle = ({ earliest, latest }: Span): number => (earliest + latest) / 2;
const wireIn = (unit: Unit | null) => unit && wireOf(unit, 'run');

function evidenceOf({ place }: PanelMoment, sequence: Sequence): Evidence[] {
  const evidence: Evidence[] = [];
  if (sequence.supply)
    evidence.push({
      signal: sequence.supply.by === 'line' ? 'line-voltage' : 'utility-failed',
      t: sequence.supply.back.latest,
      value: null,
      says: 'the panel has power again',
    });
  for (const [id, { back, at, outcome }] of membersIn(sequence)) {
    if (back)
      evidence.push({
        signal: 'control-voltage',
        device: id,
        t: back.latest,
        value: null,
        says: 'control power is back',
      });
    const run = wireIn(place.unit(id));
    if (at && run && outcome === 'started')
      evidence.push({ signal: run.signal, device: id, t: at.latest, value: 1, says: 'started' });
    if (at && outcome === 'overdue')
      evidence.push({
        signal: run?.signal ?? 'compressor-output',
        device: id,
        t: at.latest,
        value: 0,
        says: 'overdue: not started by now',
      });
  }
  return evidence;
}
