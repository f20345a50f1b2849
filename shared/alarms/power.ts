import { inSeconds } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import type { AlarmSubject, Beside, Condition } from './condition.ts';

/**
 * Power losses of units come one by one (contract 4); here they are joined into the loss of their panel, and those of every
 * panel into that of the site. A panel's supply is away while a unit has lost it and none of those that lost it with it has
 * it again: one unit's return proves the supply's.
 */
type Loss = Omit<Condition, 'key' | 'rule'>;

/** Losses that begin this near to one another are one [from memory]: the polling of control voltage, and a little. */
const TOGETHER_SECONDS = 60;

export function supplyLosses(
  losses: readonly EventDraft[],
  beside: Pick<Beside, 'site' | 'isPowered'>,
): Loss[] {
  const { site } = beside;
  const panels = site.panels.flatMap(({ id }) => {
    const own = losses.filter(({ panel }) => panel === id);
    return own.length === 0 ? [] : [panelLoss(own, id, beside)];
  });
  const powered = site.panels.filter(({ id }) => site.units.some(({ panel }) => panel === id));
  const whole =
    powered.length > 1 && powered.every(({ id }) => panels.some(({ subject }) => subject.device === id));
  return whole && isOneLoss(panels) ? [...panels, siteLoss(panels)] : panels;
}

/** The newest group of losses of the panel that began together, those that stand before those that are over. */
function panelLoss(
  own: readonly EventDraft[],
  panel: string,
  beside: Pick<Beside, 'site' | 'isPowered'>,
): Loss {
  const sorted = own.toSorted((a, b) => a.start.latest - b.start.latest || (a.id < b.id ? -1 : 1));
  const newest = sorted.findLast(({ end }) => end === null) ?? sorted.at(-1)!;
  const group = sorted.filter(({ start }) => isTogether(start, newest.start));
  return {
    subject: { kind: 'panel', device: panel, unit: null, space: null, panel },
    since: group[0]!.start,
    end: firstBack(group) ?? backByOthers(newest, panel, beside),
    severity: 'major',
    cause: 'supply',
    certainty: surest(group),
    causeCertainty: surest(group.map(({ causeCertainty }) => ({ certainty: causeCertainty ?? 'possible' }))),
    events: group.map(({ id }) => id),
    members: group.flatMap(({ unit }) => (unit === null ? [] : [unit])).toSorted(),
  };
}

const isTogether = (a: Span, b: Span): boolean =>
  inSeconds(Math.max(a.earliest, b.earliest) - Math.min(a.latest, b.latest)) <= TOGETHER_SECONDS;

const firstBack = (group: readonly EventDraft[]): Span | null =>
  group.flatMap(({ end }) => (end ? [end] : [])).toSorted((a, b) => a.latest - b.latest)[0] ?? null;

/** Those that came back with it are long past; but another unit of the panel is seen powered now. */
const backByOthers = (
  { unit, start }: EventDraft,
  panel: string,
  { site, isPowered }: Pick<Beside, 'site' | 'isPowered'>,
): Span | null =>
  site.units.some((one) => one.panel === panel && one.id !== unit && isPowered(one.id, start.latest))
    ? start
    : null;

const surest = (some: readonly Pick<EventDraft, 'certainty'>[]): EventDraft['certainty'] =>
  (['certain', 'probable', 'possible'] as const).find((one) =>
    some.some(({ certainty }) => certainty === one),
  ) ?? 'possible';

/** Every panel away at one time. */
function isOneLoss(panels: readonly Loss[]): boolean {
  const from = Math.max(...panels.map(({ since }) => since.latest));
  return panels.every(({ end }) => end === null || end.latest >= from);
}

function siteLoss(panels: readonly Loss[]): Loss {
  const since = panels.toSorted((a, b) => a.since.latest - b.since.latest)[0]!.since;
  const ends = panels.flatMap(({ end }) => (end ? [end] : []));
  const subject: AlarmSubject = { kind: 'site', device: 'site', unit: null, space: null, panel: null };
  return {
    ...panels[0]!,
    subject,
    since,
    // the site has power again with its first panel
    end: ends.toSorted((a, b) => a.latest - b.latest)[0] ?? null,
    certainty: surest(panels),
    events: panels.flatMap(({ events }) => events),
    members: panels.flatMap(({ members }) => members).toSorted(),
  };
}
