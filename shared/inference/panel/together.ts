import { inSeconds, seconds, type Instant } from '../../base/instant.ts';
import { elapsed, type Bounds, type Span } from '../../base/span.ts';
import { weaker, type Candidate, type Certainty, type EventDraft, type Evidence } from '../event.ts';
import { unknownWithin } from '../members/picture.ts';
import { clockDoubt, wireOf } from '../members/wired.ts';
import { draftAbout } from '../subject-draft.ts';
import { spacingBounds } from './spacing.ts';
import type { PanelMoment, SeenStart } from './state.ts';

/**
 * Starts of different units closer together than the panel's minimum (contract 4, handbook 5.3).
 *
 * Starts that *may* be closer than the minimum form a group; within it, starts that *must* be, on every history that
 * fits, form the event, and it is certain. Its interval reaches out to those that may belong with it, so that the true
 * first and last start lie inside. A group is closed when nothing that comes later can still belong to it. After a power
 * return a group that can't be told is `possible`; in ordinary running only where it is likelier than not, because one
 * coincidence there is no missing stagger and coarse polling would make one of nearly every start.
 */
const GROUP_LIMIT = 64;

/** In service, starts that may lie up to this many minimums apart aren't worth a line [our choice]. */
const LIKELY = 2;

export function takeStart(moment: PanelMoment, start: SeenStart): void {
  const { state } = moment;
  state.starts.push(start);
  if (state.starts.length <= GROUP_LIMIT) return;
  const closed = state.starts;
  state.starts = [];
  for (const group of groupsOf(moment, closed)) tell(moment, group);
  state.cut = start.span;
}

/** When the first group can be closed; null while there is none. */
export function togetherDue(moment: PanelMoment): Instant | null {
  const { starts } = moment.state;
  if (starts.length === 0) return null;
  return Math.min(...groupsOf(moment, starts).map((group) => closesAt(moment, group)));
}

export function closeGroups(moment: PanelMoment): void {
  const { state, t } = moment;
  if (state.starts.length === 0) return;
  for (const group of groupsOf(moment, state.starts)) {
    if (closesAt(moment, group) > t) continue;
    state.starts = state.starts.filter((start) => !group.includes(start));
    tell(moment, group);
  }
}

function tell(moment: PanelMoment, group: readonly SeenStart[]): void {
  for (const event of groupEvents(moment, group)) moment.out.event(event);
}

const closesAt = ({ place }: PanelMoment, group: readonly SeenStart[]): Instant =>
  Math.max(...group.map(({ span }) => span.latest)) +
  seconds(minimumOf(place.panel)) +
  place.spread +
  seconds(
    place.site.gateways.reduce((sum, gateway) => Math.max(sum, 2 * gateway.clockUncertaintySeconds), 0),
  );

const minimumOf = (panel: PanelMoment['place']['panel']): number => panel?.minimumStartSeparationSeconds ?? 0;

/** Starts joined wherever two of them, not of one unit, may be closer than the minimum. */
export const groupsOf = (moment: PanelMoment, starts: readonly SeenStart[]): SeenStart[][] =>
  joined(starts, (a, b) => boundsOf(moment, a, b)[0] < minimumOf(moment.place.panel));

function joined(
  starts: readonly SeenStart[],
  belong: (a: SeenStart, b: SeenStart) => boolean,
): SeenStart[][] {
  let groups: SeenStart[][] = [];
  for (const start of starts) {
    const linked = groups.filter((group) =>
      group.some((one) => one.unit !== start.unit && belong(one, start)),
    );
    groups = [...groups.filter((group) => !linked.includes(group)), [...linked.flat(), start]];
  }
  return groups;
}

function boundsOf({ place }: PanelMoment, a: SeenStart, b: SeenStart): Bounds {
  const [first, second] = [a, b].map(({ unit }) => {
    const found = place.unit(unit);
    return found && wireOf(found, 'run');
  });
  return spacingBounds({ a: a.span, b: b.span, doubt: clockDoubt(place.site, first!, second!) });
}

/** The events of one group: the first set of starts that must be together; whatever else there may be is possible. */
export function groupEvents(moment: PanelMoment, group: readonly SeenStart[]): EventDraft[] {
  const minimum = minimumOf(moment.place.panel);
  const must = several(joined(group, (a, b) => boundsOf(moment, a, b)[1] < minimum));
  if (must.length > 0)
    return must.map((starts, i) =>
      together(moment, starts, i === 0 ? group : starts, i === 0 ? 'certain' : 'possible'),
    );
  const returning = several(
    groupsOf(
      moment,
      group.filter(({ afterReturn }) => afterReturn),
    ),
  );
  if (returning.length > 0) return returning.map((starts) => together(moment, starts, starts, 'possible'));
  const likely = several(joined(group, (a, b) => boundsOf(moment, a, b)[1] < LIKELY * minimum));
  return likely.map((starts) => together(moment, starts, starts, 'possible'));
}

const several = (groups: readonly SeenStart[][]): SeenStart[][] =>
  groups
    .filter((starts) => new Set(starts.map(({ unit }) => unit)).size > 1)
    .sort((a, b) => firstLatest(a) - firstLatest(b));

const firstLatest = (starts: readonly SeenStart[]): Instant =>
  Math.min(...starts.map(({ span }) => span.latest));

/** `starts` belong together; the true first and last of them lie within what `group` may add. */
function together(
  moment: PanelMoment,
  starts: readonly SeenStart[],
  group: readonly SeenStart[],
  fit: Certainty,
): EventDraft {
  const start = { earliest: least(group, 'earliest'), latest: least(starts, 'latest') };
  const end = { earliest: most(starts, 'earliest'), latest: most(group, 'latest') };
  const afterReturn = starts.every((one) => one.afterReturn);
  const pairs = pairsOf(moment, starts);
  const minimum = minimumOf(moment.place.panel);
  return draftAbout(moment.context.subject, {
    kind: 'simultaneous-start',
    cause: afterReturn ? 'after-power-return' : 'in-service',
    start,
    end,
    certainty: weaker(fit, sureness(moment, starts, start, end)),
    causeCertainty: starts.every(({ powerKnown }) => powerKnown) ? 'certain' : 'probable',
    measures: {
      starts: starts.length,
      spanSeconds: elapsed(start, end).map((s) => Math.max(0, s)) as unknown as Bounds,
      closestSeconds: pairs.reduce((a, b) => (b[1] < a[1] ? b : a)),
      minimumSeparationSeconds: minimum,
    },
    candidates: candidatesOf(afterReturn),
    evidence: evidenceOf(moment, starts),
    members: [...new Set(starts.map(({ unit }) => unit))].sort(),
  });
}

const least = (starts: readonly SeenStart[], end: keyof Span): Instant =>
  Math.min(...starts.map(({ span }) => span[end]));
const most = (starts: readonly SeenStart[], end: keyof Span): Instant =>
  Math.max(...starts.map(({ span }) => span[end]));

const pairsOf = (moment: PanelMoment, starts: readonly SeenStart[]): Bounds[] =>
  starts.flatMap((a, i) =>
    starts.slice(i + 1).flatMap((b) => (a.unit === b.unit ? [] : [boundsOf(moment, a, b)])),
  );

/** A unit that wasn't known then may have started first; so may one of a group that was closed for its size. */
function sureness(
  { state, place }: PanelMoment,
  starts: readonly SeenStart[],
  start: Span,
  end: Span,
): Certainty {
  const reach = seconds(minimumOf(place.panel)) + place.spread;
  const unseen = place.units.some((unit) => {
    const picture = state.units[unit.id];
    if (!wireOf(unit, 'run')) return false;
    return !picture || unknownWithin(picture.run, start.earliest - reach, end.latest + reach);
  });
  const beyondCut = state.cut !== null && start.earliest - reach <= state.cut.latest;
  return unseen || beyondCut || starts.some(({ certain }) => !certain) ? 'probable' : 'certain';
}

const candidatesOf = (afterReturn: boolean): Candidate[] =>
  afterReturn
    ? [
        {
          cause: 'after-power-return',
          fit: 'fits',
          because: 'each is its unit’s first start since power came back',
        },
      ]
    : [
        {
          cause: 'in-service',
          fit: 'fits',
          because:
            'not all of them follow a power return; one coincidence in ordinary running is no missing stagger',
        },
      ];

function evidenceOf({ place }: PanelMoment, starts: readonly SeenStart[]): Evidence[] {
  return starts.map(({ unit, span }) => {
    const found = place.unit(unit);
    const wire = found && wireOf(found, 'run');
    const width = inSeconds(span.latest - span.earliest);
    return {
      signal: wire?.signal ?? 'compressor-output',
      device: unit,
      t: span.latest,
      value: 1,
      says: width > 0 ? `started within the ${width} s before` : 'started',
    };
  });
}
