import { inSeconds, seconds } from '../../base/instant.ts';
import { elapsed, overlap, type Span } from '../../base/span.ts';
import type { UnitEdge } from '../edge.ts';
import { eventId, type Certainty, type EventDraft, type Evidence } from '../event.ts';
import { coarseness, wireOf } from '../members/wired.ts';
import type { FoldContext, Output } from '../fold.ts';
import { NEVER } from '../horizon.ts';
import { draftAbout, tentative, tentatively } from '../subject-draft.ts';
import type { PanelMoment, Supply, SupplyDark } from './state.ts';
import { isSupplyKnown } from './supply.ts';
import { isMeasured } from './excursion-event.ts';

/**
 * Power losses of units (handbook 4 rule 10): control voltage below 5 V until at or above. The event names the unit; it is
 * concluded here because its cause leans on the panel: `supply` where the panel's own points or all its other wired units
 * were away too, `unit-only` while the line or another unit was seen powered, else `unknown`.
 */
export interface Away {
  readonly span: Span;
  readonly certain: boolean;
}

export interface PastAway {
  readonly unit: string;
  readonly away: Span;
  readonly back: Span;
}

/** Past losses kept, to tell which units were away together. */
const KEPT = 40;

export function notePower(moment: PanelMoment, edge: UnitEdge): void {
  const { state } = moment;
  const away = state.away[edge.unit];
  if (edge.kind === 'power-away') {
    state.away[edge.unit] ??= { span: edge.span, certain: edge.certain };
    return;
  }
  const back =
    edge.kind === 'power-back' ||
    (edge.kind === 'known' && edge.detail?.['of'] === 'power' && edge.detail['now'] === 1);
  if (!back || !away) return;
  const unseen = state.units[edge.unit]?.power.unknown.at(-1)?.from;
  const span = edge.kind === 'known' && unseen !== undefined ? { ...edge.span, earliest: unseen } : edge.span;
  state.away = Object.fromEntries(Object.entries(state.away).filter(([unit]) => unit !== edge.unit));
  state.pastAway = [...state.pastAway.slice(-KEPT), { unit: edge.unit, away: away.span, back: span }];
  moment.out.event(lossEvent(moment, edge.unit, away, span));
}

/** The losses that last, as they are known so far. */
export function showLosses(moment: PanelMoment, said: Output): void {
  for (const [unit, away] of Object.entries(moment.state.away))
    said.event({ ...lossEvent(moment, unit, away, null), pending: ['end'] });
}

/**
 * Says everything tentatively but what leans on one source alone: that a loss was, once its unit is known through it (its
 * cause leans on others), silences of the panel's own points, and what its own meter has measured from beginning to end.
 */
export const cautious = ({ members }: FoldContext, out: Output): Output => ({
  ...tentative(out),
  event: (event) => {
    const known = event.unit === null ? null : (members[event.unit] ?? NEVER);
    if (event.kind === 'telemetry-gap' || isMeasured(event)) out.event(event);
    else if (known === null || event.start.latest > known) out.event(tentatively(event));
    else out.event(withCausePending(event, event.end !== null && event.end.latest > known));
  },
});

const withCausePending = (event: EventDraft, endPending: boolean): EventDraft => ({
  ...event,
  pending: [...new Set([...event.pending, 'cause' as const, ...(endPending ? (['end'] as const) : [])])],
  causeCertainty: tentatively(event).causeCertainty,
});

function lossEvent(moment: PanelMoment, unit: string, away: Away, back: Span | null): EventDraft {
  const { context, place } = moment;
  const { cause, certainty, evidence } = causeOf(moment, unit, away.span, back);
  const event = draftAbout(context.subject, {
    kind: 'power-loss',
    cause,
    start: away.span,
    end: back,
    certainty: away.certain ? 'certain' : 'probable',
    causeCertainty: certainty,
    measures: back ? { awaySeconds: elapsed(away.span, back) } : {},
    evidence: [
      {
        signal: 'control-voltage',
        device: unit,
        t: away.span.latest,
        value: 0,
        says: 'control voltage was below 5 V',
      },
      ...evidence,
    ],
  });
  const subject = { kind: 'unit', site: context.subject.site, device: unit } as const;
  const id = eventId(subject, 'power-loss', '', away.span.latest);
  return { ...event, id, unit, space: place.unit(unit)?.space ?? null };
}

interface Cause {
  readonly cause: 'supply' | 'unit-only' | 'unknown';
  readonly certainty: Certainty;
  readonly evidence: readonly Evidence[];
}

function causeOf(moment: PanelMoment, unit: string, away: Span, back: Span | null): Cause {
  const during = { earliest: away.earliest, latest: back?.latest ?? moment.t };
  return bySupply(moment, away, during) ?? byOthers(moment, unit, away, during);
}

/**
 * What the panel's own points say; null where they say nothing. One that saw the supply gone outweighs one that was read
 * too seldom to see it.
 */
function bySupply({ state, place }: PanelMoment, away: Span, during: Span): Cause | null {
  const device = place.panel?.id ?? '';
  const gone = darkIn(state.supply, during) ?? darkIn(state.utility, during);
  if (gone) {
    const signal = signalOf(gone);
    const evidence = { signal, device, t: gone.since, value: 0, says: 'the panel had no power' };
    return { cause: 'supply', certainty: 'certain', evidence: [evidence] };
  }
  const { supply } = state;
  if (supply.on !== true || (supply.since !== null && supply.since.latest > away.earliest)) return null;
  const meter = place.panel?.points.find((point) => point.signal.startsWith('line-voltage'));
  const seen = meter !== undefined && inSeconds(during.latest - away.latest) > 2 * coarseness(meter);
  const says = 'the panel had power meanwhile';
  return {
    cause: 'unit-only',
    certainty: seen && isSupplyKnown(state, place) ? 'certain' : 'probable',
    evidence: [{ signal: signalOf(supply), device, t: away.latest, value: 1, says }],
  };
}

/** When within `during` the panel was seen without power. */
function darkIn({ on, since, by, dark }: Supply, during: Span): SupplyDark | null {
  if (dark !== null && overlap(dark, during)) return dark;
  if (on !== false || since === null || since.earliest > during.latest) return null;
  return { ...since, since: since.latest, by };
}

const signalOf = ({ by }: Pick<Supply, 'by'>): 'utility-failed' | 'line-voltage' =>
  by === 'utility' ? 'utility-failed' : 'line-voltage';

const lasting = ({ away, back }: { readonly away: Span; readonly back: Span }): Span => ({
  earliest: away.earliest,
  latest: back.latest,
});

/** What the other units of the panel say (handbook 5.1, "No meter needed"). */
function byOthers({ state, place }: PanelMoment, unit: string, away: Span, during: Span): Cause {
  const others = place.units.filter(({ id }) => id !== unit && state.units[id]?.power.on != null);
  const lost = others.filter(
    ({ id }) =>
      (state.away[id] && overlap({ ...state.away[id].span, latest: Infinity }, during)) ||
      state.pastAway.some((past) => past.unit === id && overlap(lasting(past), during)),
  );
  if (others.length > 0 && lost.length === others.length)
    return {
      cause: 'supply',
      certainty: 'probable',
      evidence: lost.slice(0, 1).map(({ id }) => told(id, away, 0)),
    };
  const powered = others.find(({ id }) => !lost.some((one) => one.id === id) && isPowered(state, id, away));
  if (!powered) return { cause: 'unknown', certainty: 'possible', evidence: [] };
  const wire = wireOf(powered, 'power');
  const lasted = wire !== null && during.latest - away.latest > seconds(2 * coarseness(wire));
  const sure = lasted && isSupplyKnown(state, place);
  return {
    cause: 'unit-only',
    certainty: sure ? 'certain' : 'probable',
    evidence: [told(powered.id, away, 1)],
  };
}

const isPowered = (state: PanelMoment['state'], id: string, away: Span): boolean =>
  state.units[id]?.power.on === true && (state.units[id].power.from ?? Infinity) <= away.earliest;

const told = (device: string, away: Span, value: number): Evidence => ({
  signal: 'control-voltage',
  device,
  t: away.latest,
  value,
  says:
    value === 1
      ? 'another unit of the panel had power meanwhile'
      : 'the other units of the panel lost power too',
});
