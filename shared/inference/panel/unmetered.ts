import type { Instant } from '../../base/instant.ts';
import { overlap, type Span } from '../../base/span.ts';
import type { Certainty, EventDraft, Evidence } from '../event.ts';
import { BEGINNING } from '../horizon.ts';
import { overAfter, powerUpBounds, wireOf } from '../members/wired.ts';
import { draftAbout } from '../subject-draft.ts';
import type { UnitEdge } from '../edge.ts';
import { NOT_MEASURED } from './excursion-event.ts';
import { isMetered, noteInterruption } from './excursions.ts';
import type { PanelMoment, SupplyOutage } from './state.ts';

/**
 * Interruptions that no meter saw (handbook 5.1 "No meter needed"): the utility contact; power losses of all wired units that
 * overlap; a silence after which a unit starts as it would after a power return. How low the
 * voltage was isn't measured, and there is no class. Never certain: a contact or a control transformer may fail by itself.
 */
export function tellContactOutage(moment: PanelMoment, outage: SupplyOutage): void {
  if (outage.by === 'utility') tell(moment, contactEvent(moment, outage.away, outage.back));
}

/** Once: what a meter or another witness has told of is known. */
function tell(moment: PanelMoment, event: EventDraft): void {
  const { interrupted, voltage } = moment.state;
  const span = { earliest: event.start.earliest, latest: (event.end ?? event.start).latest };
  if (voltage.open.interruption !== null || (interrupted !== null && overlap(interrupted, span))) return;
  noteInterruption(moment, event);
  moment.out.event(event);
}

/** The utility contact's outage that lasts; null: there is none, or a line meter tells of it itself. */
export function lastingContactOutage(moment: PanelMoment): EventDraft | null {
  const { on, by, since } = moment.state.supply;
  return on === false && by === 'utility' && since ? contactEvent(moment, since, null) : null;
}

function contactEvent(moment: PanelMoment, away: Span, back: Span | null): EventDraft {
  return unmetered(moment, {
    start: away,
    end: back,
    certainty: 'probable',
    evidence: [
      {
        signal: 'utility-failed',
        device: moment.place.points.find(({ signal }) => signal === 'utility-failed')?.device ?? '',
        t: away.latest,
        value: 1,
        says: 'the contact told that the utility had failed, and no generator ran',
      },
    ],
  });
}

interface Lost {
  readonly unit: string;
  readonly away: Span;
  readonly back: Span | null;
}

/** Called at each loss and each return of a unit's power: are all wired units' losses one, and not told yet? */
export function tellSharedLoss(moment: PanelMoment, edge: UnitEdge): void {
  const { state, place } = moment;
  if (!isAboutPower(edge) || state.utility.by !== null) return;
  const wired = place.units.filter((unit) => wireOf(unit, 'power'));
  const own = lossOf(moment, edge.unit, null);
  if (own === null || (wired.length < 2 && place.units.length > 1)) return;
  if (isMetered(moment, own.away.latest)) return;
  const losses = wired.map(({ id }) => (id === edge.unit ? own : lossOf(moment, id, own)));
  const all = losses.flatMap((loss) => (loss ? [loss] : []));
  if (all.length < wired.length || all.every(({ back }) => back === null)) return;
  if (state.toldLosses.some((told) => all.some(({ unit, away }) => told === `${unit} ${away.latest}`)))
    return;
  state.toldLosses = [...state.toldLosses, ...all.map(({ unit, away }) => `${unit} ${away.latest}`)].slice(
    -TOLD_KEPT,
  );
  tell(moment, sharedEvent(moment, all));
}

const isAboutPower = ({ kind, detail }: UnitEdge): boolean =>
  kind === 'power-away' || kind === 'power-back' || (kind === 'known' && detail?.['of'] === 'power');

const TOLD_KEPT = 80;

/** The unit's last loss that may overlap `with`; null: it has none. */
function lossOf({ state }: PanelMoment, unit: string, other: Lost | null): Lost | null {
  const away = state.away[unit];
  const past = state.pastAway.findLast((one) => one.unit === unit);
  const last = away ? { unit, away: away.span, back: null } : past ? { ...past } : null;
  return last && (other === null || overlap(lasting(last), lasting(other))) ? last : null;
}

const lasting = ({ away, back }: Lost): Span => ({
  earliest: away.earliest,
  latest: back?.latest ?? Number.MAX_SAFE_INTEGER,
});

/** One loss for all: it began and ended within every one's interval; where they don't meet, within all of them together. */
function sharedEvent(moment: PanelMoment, losses: readonly Lost[]): EventDraft {
  const backs = losses.flatMap(({ back }) => (back ? [back] : []));
  return unmetered(moment, {
    start: common(losses.map(({ away }) => away)),
    end: common(backs),
    certainty: losses.length > 1 ? 'probable' : 'possible',
    evidence: losses.map(({ unit, away }) => ({
      signal: 'control-voltage',
      device: unit,
      t: away.latest,
      value: 0,
      says:
        losses.length > 1
          ? 'control voltage was below 5 V, as of every other wired unit of the panel'
          : 'control voltage of the panel’s only unit was below 5 V; its own supply may have failed instead',
    })),
  });
}

function common(spans: readonly Span[]): Span {
  const earliest = Math.max(...spans.map((span) => span.earliest));
  const latest = Math.min(...spans.map((span) => span.latest));
  if (earliest <= latest) return { earliest, latest };
  return {
    earliest: Math.min(...spans.map((span) => span.earliest)),
    latest: Math.max(...spans.map((span) => span.latest)),
  };
}

/**
 * A unit wasn't heard for a while, and starts as long after its return as its recorded power-up delay: an outage that took its
 * gateway along fits. Once a silence; nothing where a meter, a contact or a unit's control voltage tells.
 */
export function tellSilentOutage(moment: PanelMoment, edge: UnitEdge): void {
  const { state, place } = moment;
  const unit = place.unit(edge.unit);
  const silence = state.units[edge.unit]?.run.unknown.at(-1);
  if (!unit || !silence || silence.to === null || silence.from === BEGINNING) return;
  const told = silences(edge.unit, silence.from);
  const known = unit.protection.offDelay.known !== 'assumed' && wireOf(unit, 'run') !== null;
  if (!known || state.toldLosses.includes(told) || isPowerKnown(moment, edge.unit, silence.from)) return;
  const back = { earliest: silence.to, latest: silence.to };
  if (!overlap(overAfter(back, powerUpBounds(unit.protection)), edge.span)) return;
  state.toldLosses = [...state.toldLosses, told].slice(-TOLD_KEPT);
  tell(moment, silentEvent(moment, edge, { earliest: silence.from, latest: silence.to }));
}

const silences = (unit: string, from: Instant): string => `${unit} silent ${from}`;

/** Does anything tell of the power in that silence, one way or the other? */
const isPowerKnown = (moment: PanelMoment, unit: string, since: Instant): boolean =>
  moment.state.utility.by !== null ||
  isMetered(moment, since) ||
  moment.state.away[unit] !== undefined ||
  moment.state.pastAway.some((past) => past.unit === unit && past.back.latest >= since);

function silentEvent(moment: PanelMoment, edge: UnitEdge, silence: Span): EventDraft {
  return unmetered(moment, {
    start: silence,
    end: silence,
    certainty: 'possible',
    evidence: [
      {
        signal: wireOf(moment.place.unit(edge.unit)!, 'run')!.signal,
        device: edge.unit,
        t: edge.span.latest,
        value: 1,
        says: 'started its recorded power-up delay after it was heard again: that fits an outage which took its gateway along',
      },
    ],
  });
}

interface Unmetered {
  readonly start: Span;
  readonly end: Span | null;
  readonly certainty: Certainty;
  readonly evidence: readonly Evidence[];
}

const unmetered = ({ context }: PanelMoment, parts: Unmetered): EventDraft =>
  draftAbout(context.subject, {
    kind: 'interruption',
    cause: null,
    ...parts,
    pending: parts.end ? [] : ['end'],
    measures: { residualVolts: NOT_MEASURED, residualPerUnit: NOT_MEASURED, class: NOT_MEASURED },
  });
