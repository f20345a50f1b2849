import type { SignalName } from '../../../shared/telemetry/signals.ts';
import type { Site, Unit } from '../../../shared/telemetry/site.ts';
import type { Instant } from '../../../shared/base/instant.ts';
import { eventMarks, standingMark, waitMarks, type Mark } from '../chart/marks.ts';
import type { EventView, SiteView } from '../view/site-view.ts';
import { runSignal } from './site-rows.ts';

/** What is drawn on a site's chart: each unit's events and waits on its lane, the panels' and rooms' on theirs. */
export function siteMarks(
  setup: Site,
  site: SiteView,
  events: readonly EventView[],
  clock: (at: Instant) => string,
): Mark[] {
  const units = setup.units.flatMap((unit) => unitMarks(unit, site, events, clock));
  const wired = new Set<SignalName>(['line-voltage', 'space-temperature']);
  const others = events.flatMap((event) => {
    const device = event.unit === null ? (event.space ?? event.panel) : null;
    return device === null ? [] : eventMarks([event], wired, clock).map((mark) => ({ ...mark, device }));
  });
  return [...units, ...others];
}

function unitMarks(
  unit: Unit,
  site: SiteView,
  events: readonly EventView[],
  clock: (at: Instant) => string,
): Mark[] {
  const signal = runSignal(unit);
  if (signal === null) return [];
  const wired = new Set([signal]);
  const mine = events.filter(
    (event) =>
      event.unit === unit.id ||
      (event.unit === null && event.members.includes(unit.id) && TOGETHER.has(event.kind)),
  );
  const { offDelay, powerUpBase, powerUpShare } = unit.protection;
  const lengths = {
    offDelay: offDelay.value,
    powerUpDelay: powerUpBase.value + powerUpShare.value * offDelay.value,
    assumed: offDelay.known === 'assumed',
  };
  const standing = site.units.find(({ id }) => id === unit.id)?.standing;
  const marks = [
    ...eventMarks(mine, wired, clock),
    ...waitMarks(mine, wired, lengths),
    ...(standing ? standingMark(standing, wired) : []),
  ];
  return marks.map((mark) => ({ ...mark, id: `${unit.id} ${mark.id}`, device: unit.id }));
}

/** Events of a panel that are drawn on its units' lanes. */
const TOGETHER: ReadonlySet<string> = new Set(['simultaneous-start']);
