import { inSeconds } from '../../base/instant.ts';
import { elapsed, type Bounds, type Span } from '../../base/span.ts';
import { classWithin } from '../../power/classes.ts';
import type { ExcursionKind } from '../../power/excursion.ts';
import { sagInInterval } from '../../power/slow-meter.ts';
import type { EventDraft, EventKind, Evidence, Measure } from '../event.ts';
import { signalOfKey } from '../members/queue.ts';
import { draftAbout } from '../subject-draft.ts';
import type { OpenExcursion } from './excursions.ts';
import { backAt, worstOf } from './look.ts';
import type { PanelMoment } from './state.ts';
import { isLine } from './supply.ts';

/**
 * An excursion as an event. Measures: `residualVolts` and `residualPerUnit` (the lowest one-cycle RMS of any channel, of a
 * swell the highest), `seconds`, each a number or [low, high]; `class` (IEEE 1159), `not measured` where the bounds allow
 * several; `channels` where there are several; `phasesOut`.
 *
 * The residual is a number only where looks lie a cycle apart at most, or intervals cover all of it: else the voltage may
 * have been lower in between, and what was read is the most that it can have been (handbook 5.1 "Slow meters").
 */
const EXCURSION_EVENTS: Record<ExcursionKind, EventKind> = {
  sag: 'voltage-sag',
  swell: 'voltage-swell',
  interruption: 'interruption',
};

/** Is it an excursion that the panel's own meter saw end? It leans on that meter alone. */
export const isMeasured = ({ kind, end, evidence }: EventDraft): boolean =>
  end !== null && MEASURED.has(kind) && evidence.every(({ signal }) => isLine(signal));

const MEASURED: ReadonlySet<EventKind> = new Set(Object.values(EXCURSION_EVENTS));

/** Half-cycle values, one of them lost or a little late. */
const COVERED_CYCLES = 1.2;

export const NOT_MEASURED = 'not measured';

export function excursionEvent(
  moment: PanelMoment,
  kind: ExcursionKind,
  open: OpenExcursion,
  end: Span | null,
): EventDraft {
  const frequency = moment.place.panel?.frequency ?? 60;
  const isCovered = open.gap !== null && inSeconds(open.gap) * frequency <= COVERED_CYCLES;
  const residual = residualOf(moment, kind, open, isCovered);
  const seconds = end && secondsOf(kind, open, end);
  return draftAbout(moment.context.subject, {
    kind: EXCURSION_EVENTS[kind],
    cause: null,
    start: open.start,
    end,
    certainty: open.certain && open.mixed < 2 ? 'certain' : 'probable',
    pending: end ? [] : ['end'],
    measures: measuresOf(moment, open, residual, seconds),
    evidence: [evidenceOf(moment, kind, open, isCovered)],
  });
}

function residualOf(
  { place }: PanelMoment,
  kind: ExcursionKind,
  { worst }: OpenExcursion,
  isCovered: boolean,
): Bounds {
  const seen = worstOf(kind, worst);
  if (isCovered) return [seen, seen];
  if (kind !== 'swell') return [0, seen];
  const point = place.points.find(({ device, signal }) => `${device}/${signal}` === worst.key);
  return [seen, Math.max(seen, (point?.range[1] ?? 0) / (place.panel?.nominalVoltage ?? 1))];
}

/** By its times; where one interval holds all of it, its mean may say less. */
function secondsOf(kind: ExcursionKind, { start, worst, mixed }: OpenExcursion, end: Span): Bounds {
  const [low, high] = elapsed(start, end);
  const most =
    kind !== 'swell' && mixed === 1 && start.earliest >= worst.from && end.latest <= worst.to
      ? sagInInterval({ ...worst, seconds: inSeconds(worst.to - worst.from) }, backAt(kind)).seconds[1]
      : Infinity;
  return [Math.max(0, low), Math.max(0, Math.min(high, most))];
}

function measuresOf(
  { place, state }: PanelMoment,
  open: OpenExcursion,
  residual: Bounds,
  seconds: Bounds | null,
): Record<string, Measure> {
  const declared = place.panel?.nominalVoltage ?? 0;
  const frequency = place.panel?.frequency ?? 60;
  const several = Object.keys(state.voltage.channels).length > 1;
  return {
    residualVolts: figure([residual[0] * declared, residual[1] * declared], 10),
    residualPerUnit: figure(residual, 10_000),
    ...(seconds ? { seconds: figure(seconds, 1_000_000) } : {}),
    class: (seconds && classWithin(residual, seconds, frequency)) ?? NOT_MEASURED,
    ...(several ? { channels: open.channels.map(channelName).join(', ') } : {}),
  };
}

/** One number where both ends are the same; rounded to what a meter can mean. */
function figure([low, high]: Bounds, parts: number): Measure {
  const [a, b] = [Math.round(low * parts) / parts, Math.round(high * parts) / parts];
  return a === b ? a : [a, b];
}

/** `line-voltage-ab` → `A–B` */
const channelName = (key: string): string =>
  signalOfKey(key)
    .replace(/^line-voltage-?/, '')
    .toUpperCase()
    .split('')
    .join('–') || 'line';

function evidenceOf(
  { place }: PanelMoment,
  kind: ExcursionKind,
  { worst }: OpenExcursion,
  isCovered: boolean,
): Evidence {
  const seen = worstOf(kind, worst);
  const extreme = kind === 'swell' ? 'highest' : 'lowest';
  const share = `${Math.round(seen * 1000) / 10} % of the declared ${place.panel?.nominalVoltage ?? 0} V`;
  const beyond = kind === 'swell' ? 'higher' : 'lower';
  return {
    signal: signalOfKey(worst.key),
    device: place.panel?.id ?? '',
    t: worst.to,
    value: seen * (place.panel?.nominalVoltage ?? 0),
    says: isCovered
      ? `the ${extreme} value${heldFor(worst)}, ${share}`
      : `the ${extreme} that was read${heldFor(worst)}, ${share}; between two readings it may have been ${beyond}`,
  };
}

/** Of an interval: how long it was. */
const heldFor = ({ from, to }: OpenExcursion['worst']): string =>
  to > from ? ` in an interval of ${Math.round(inSeconds(to - from) * 10) / 10} s` : '';
