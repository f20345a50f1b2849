import { formatInstant, seconds, type Instant } from '../base/instant.ts';
import type { Completeness } from '../review/completeness.ts';
import type { PowerEvent } from '../review/group.ts';
import type { Margin } from '../review/margin.ts';
import type { RideThrough } from '../review/ride-through.ts';
import type { RoomReview } from '../review/rooms.ts';
import { isAboveLimit, type SiteReview, type Todo } from '../review/site-review.ts';
import type { Susceptibility } from '../review/susceptibility.ts';
import type { Site } from '../telemetry/site.ts';
import type { ReviewFilter, ReviewRow, WireRestart, WireRide, WireRoom, WireTodo } from './review-answer.ts';
import { restartReach } from './review-sentences.ts';
import { namesOf, powerEventTitle, type Named } from './review-words.ts';
import { wireInstant, wireSpan } from './standing-wire.ts';

/** From reviews to what crosses the wire: the one place that converts. */
export const wireHead = (event: PowerEvent) => ({
  id: event.id,
  kind: event.kind,
  title: powerEventTitle(event),
  start: wireSpan(event.start)!,
  end: wireInstant(event.end),
  settled: wireInstant(event.settled),
  lowest: event.lowest,
});

export function wireRow(review: SiteReview, site: Site, missing: readonly string[]): ReviewRow {
  const names = namesOf(site);
  const { share, rooms, restarts } = review;
  const longest = rooms.find((room) => room.withoutCooling !== null) ?? null;
  return {
    site: site.id,
    name: site.name,
    timeZone: site.timeZone,
    start: wireSpan(share.start)!,
    end: wireInstant(share.end),
    outages: review.outages,
    awaySeconds: review.away,
    generatorSeconds: review.onGenerator,
    restartSeconds: restartReach(review),
    withoutCoolingSeconds: longest?.withoutCooling ?? null,
    highest: hottest(rooms, names),
    verdict: review.verdict,
    filters: filtersOf(review, missing),
    todo: review.todo.map((todo) => wireTodo(todo, names)),
    missing: [...missing],
    strip: stripOf(review),
    starts: startsOf(review, names),
    returns: restarts.map(({ back }) => formatInstant(back.latest)),
  };
}

function hottest(rooms: readonly RoomReview[], names: Named): ReviewRow['highest'] {
  const measured = rooms.filter(({ highest }) => highest !== null);
  // by how far it is past its limit where there is one, then by its temperature
  const past = ({ highest, limit }: RoomReview) => highest!.value - (limit ?? highest!.value + 100);
  const [first] = measured.sort((a, b) => past(b) - past(a) || b.highest!.value - a.highest!.value);
  return first ? wireHighest(first, names) : null;
}

const wireHighest = ({ space, highest, limit }: RoomReview, names: Named) =>
  highest && { space, name: names.space(space), value: highest.value, t: formatInstant(highest.t), limit };

/** What a site's row counts as in the sentence above the table. */
function filtersOf(review: SiteReview, missing: readonly string[]): ReviewFilter[] {
  const { todo, rooms, verdict, units } = review;
  const known = units.filter(({ outcome }) => outcome !== 'not-known');
  const filters: readonly (readonly [ReviewFilter, boolean])[] = [
    ['not-back', todo.some(({ kind }) => kind === 'latched' || kind === 'not-back')],
    ['above-limit', rooms.some(isAboveLimit)],
    ['together', verdict === 'simultaneous'],
    ['cannot-be-told', verdict === 'cannot-be-told'],
    ['separate', verdict === 'separate'],
    [
      'rode-through',
      known.length > 0 && known.every(({ outcome }) => outcome !== 'dropped' && outcome !== 'held'),
    ],
    ['not-known', known.length < units.length || missing.length > 0],
  ];
  return filters.filter(([, holds]) => holds).map(([filter]) => filter);
}

export function wireTodo(todo: Todo, names: Named): WireTodo {
  switch (todo.kind) {
    case 'latched':
      return {
        kind: todo.kind,
        device: todo.unit,
        says: `${names.unit(todo.unit)}: latched, find the cause`,
      };
    case 'not-back':
      return { kind: todo.kind, device: todo.unit, says: `${names.unit(todo.unit)}: look why it stays off` };
    case 'above-limit':
      return { kind: todo.kind, device: todo.space, says: `${names.space(todo.space)}: was above its limit` };
    case 'stagger':
      return {
        kind: todo.kind,
        device: todo.panel,
        says: `${names.panel(todo.panel)}: set its delays apart`,
      };
    case 'poll-faster': {
      const how =
        todo.seconds > 0 && Number.isFinite(todo.seconds)
          ? `poll each ${todo.seconds} s`
          : 'report runs on change';
      return { kind: todo.kind, device: todo.panel, says: `${names.panel(todo.panel)}: ${how}, to tell` };
    }
  }
}

/** What a row draws: the supply, and from each return to its last restart the wait. */
function stripOf({ panels, restarts, until }: SiteReview): ReviewRow['strip'] {
  const piece = (state: ReviewRow['strip'][number]['state'], from: Instant, to: Instant | null) => ({
    state,
    from: formatInstant(from),
    to: formatInstant(to ?? until),
  });
  return [
    ...panels.flatMap(({ onGenerator }) =>
      onGenerator.map(({ from, to }) => piece('generator', from.latest, to?.latest ?? null)),
    ),
    ...restarts.flatMap((restart) => {
      const last = Math.max(0, ...restart.units.flatMap(({ startedSeconds }) => startedSeconds?.[1] ?? 0));
      return last > 0 ? [piece('waiting', restart.back.latest, restart.back.latest + seconds(last))] : [];
    }),
    ...panels.flatMap(({ away }) =>
      away.map(({ from, to }) => piece('away', from.latest, to?.latest ?? null)),
    ),
    ...panels.flatMap(({ sags }) =>
      sags.map(({ from, to }) => piece('sag', from.latest, to?.latest ?? null)),
    ),
  ];
}

const startsOf = ({ restarts }: SiteReview, names: Named): ReviewRow['starts'] =>
  restarts.flatMap(({ back, units, spacings }) => {
    const together = new Set(
      spacings
        .filter(({ verdict }) => verdict === 'simultaneous')
        .flatMap(({ first, second }) => [first, second]),
    );
    return units.flatMap(({ unit, startedSeconds }) =>
      startedSeconds
        ? [
            {
              unit,
              name: names.unit(unit),
              t: formatInstant(back.latest + seconds(startedSeconds[1])),
              together: together.has(unit),
            },
          ]
        : [],
    );
  });

export const wireRestarts = ({ restarts }: SiteReview, names: Named): WireRestart[] =>
  restarts.map(({ panel, back, end: _end, units, spacings, ...rest }) => ({
    ...rest,
    panel,
    name: names.panel(panel),
    back: wireSpan(back)!,
    units: units.map((one) => ({ ...one, name: names.unit(one.unit) })),
    spacings: spacings.map((one) => ({
      ...one,
      names: `${names.unit(one.first)} and ${names.unit(one.second)}`,
    })),
  }));

export interface Learned {
  readonly margin: Margin | null;
  readonly susceptibility: Susceptibility | null;
}

export const wireRide = (ride: RideThrough, names: Named, learned: Learned): WireRide => ({
  unit: ride.unit,
  name: names.unit(ride.unit),
  outcome: ride.outcome,
  because: ride.because,
  drops: ride.drops.length,
  restarted: wireSpan(ride.restarted),
  withoutCoolingSeconds: ride.withoutCooling,
  stillOff: ride.stillOff,
  waits: ride.waits,
  evidence: [...ride.evidence],
  ...learned,
});

export const wireRoom = (room: RoomReview, names: Named): WireRoom => ({
  space: room.space,
  name: names.space(room.space),
  withoutCoolingSeconds: room.withoutCooling,
  highest: wireHighest(room, names),
});

export const wireCompleteness = (
  { missing, through, ...counts }: Completeness,
  nameOf: (site: string) => string,
  says: string,
) => ({
  ...counts,
  says,
  through: formatInstant(through),
  missing: missing.map(({ site, gateway, since }) => ({
    site,
    name: nameOf(site),
    gateway,
    since: wireInstant(since),
  })),
});
