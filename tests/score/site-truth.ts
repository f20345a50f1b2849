import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import type { ControlChange } from '../../shared/control/state.ts';
import type { Panel, Space, Unit } from '../../shared/telemetry/site.ts';
import { placeAt, stretches, valueAt, type Stretch, type Trace } from './trace.ts';
import { event, type Leaning, type TrueEvent } from './true-event.ts';

/** What truly befell a panel and a space: labels from the units' traces (contract 4, handbook 5.3 and 6). */
export interface TrueUnit {
  readonly unit: Unit;
  readonly trace: Trace;
  readonly changes: readonly ControlChange[];
}

export interface PlaceTruth {
  readonly units: readonly TrueUnit[];
  readonly panel: Panel;
  /** null: its losses of cooling aren't labelled */
  readonly space: Space | null;
  /** when the panel had no power */
  readonly outages: readonly Stretch[];
  readonly to: Instant;
}

/** A true event of a panel, a space, or, concluded there, of a unit: whose. */
export interface PlaceEvent extends TrueEvent {
  readonly device: string;
}

export const placeTruth = (place: PlaceTruth): PlaceEvent[] => [
  ...powerLosses(place),
  ...together(place),
  ...restarts(place),
  ...interruptions(place),
  ...losses(place),
];

const powerlessOf = ({ trace }: TrueUnit): Stretch[] => stretches(trace.volts, (value) => value < 5);
const runsOf = ({ trace }: TrueUnit): Stretch[] => stretches(trace.output, (value) => value === 1);
const meets = (a: Stretch, b: Stretch): boolean => a.from <= b.to && b.from <= a.to;
const endOf = ({ to }: Stretch, last: Instant): Instant | null => (to === Infinity || to >= last ? null : to);

function powerLosses({ units, outages, to }: PlaceTruth): PlaceEvent[] {
  return units.flatMap((one) =>
    powerlessOf(one).map((away) => ({
      ...event({
        kind: 'power-loss',
        cause: outages.some((outage) => meets(outage, away)) ? 'supply' : 'unit-only',
        start: away.from,
        end: endOf(away, to),
        leansOn: withPauses(powerlessOf(one), away).map((piece) => ({ signal: 'volts' as const, ...piece })),
      }),
      device: one.unit.id,
    })),
  );
}

/** A stretch and the pauses before and after it: what is over too soon to be seen joins its neighbours. */
function withPauses(all: readonly Stretch[], one: Stretch): Stretch[] {
  const before = all.findLast(({ to }) => to <= one.from)?.to ?? -Infinity;
  const after = all.find(({ from }) => from >= one.to)?.from ?? Infinity;
  return [
    { from: before, to: one.from },
    { from: one.from, to: one.to },
    { from: one.to, to: after },
  ];
}

const interruptions = ({ outages, panel, to }: PlaceTruth): PlaceEvent[] =>
  outages.map((outage) => ({
    ...event({ kind: 'interruption', cause: null, start: outage.from, end: endOf(outage, to) }),
    device: panel.id,
  }));

interface Start {
  readonly one: TrueUnit;
  readonly at: Instant;
  /** its first since its own power came back */
  readonly afterReturn: boolean;
}

function startsOf(place: PlaceTruth): Start[] {
  return place.units
    .flatMap((one) => {
      const away = powerlessOf(one);
      return runsOf(one).map((run, i, runs): Start => {
        const before = runs[i - 1]?.to ?? -Infinity;
        return { one, at: run.from, afterReturn: away.some(({ to }) => to >= before && to <= run.from) };
      });
    })
    .sort((a, b) => a.at - b.at);
}

/** near the limit a verdict may fall either way, s */
const NEAR = 0.5;

/** Starts of different units below the panel's minimum apart, joined where they hang together. */
function together(place: PlaceTruth): PlaceEvent[] {
  const minimum = seconds(place.panel.minimumStartSeparationSeconds);
  const groups: Start[][] = [];
  for (const start of startsOf(place)) {
    const last = groups.at(-1);
    if (last && start.at - last.at(-1)!.at < minimum) last.push(start);
    else groups.push([start]);
  }
  return groups
    .filter((starts) => new Set(starts.map(({ one }) => one.unit.id)).size > 1)
    .map((starts) => ({
      ...event({
        kind: 'simultaneous-start',
        cause: starts.every(({ afterReturn }) => afterReturn) ? 'after-power-return' : 'in-service',
        start: starts[0]!.at,
        end: starts.at(-1)!.at,
        needed: starts.at(-1)!.at - starts[0]!.at < minimum - seconds(NEAR),
        leansOn: starts.flatMap(({ one, at }) => around(one, at)),
      }),
      device: place.panel.id,
    }));
}

/** The run that began at `at` and the pause before it: what is over too soon isn't seen. */
function around({ trace }: TrueUnit, at: Instant): Leaning[] {
  const { output } = trace;
  const place = placeAt(output, at);
  const next = output.at[place + 1] ?? Infinity;
  return [
    { signal: 'output', from: output.at[place - 1] ?? -Infinity, to: at },
    { signal: 'output', from: at, to: next },
  ];
}

/** an outage this soon after a return belongs to the same trouble: how it is grouped is the tool's own affair, s */
const GROUPED = 500;

/** The panel's power came back; one that soon goes again is asked for only with the last of its returns. */
function restarts({ outages, units, panel, to }: PlaceTruth): PlaceEvent[] {
  return outages
    .filter((outage) => outage.to < to)
    .map((outage) => {
      const next = outages.find(({ from }) => from > outage.to);
      const own = units.some((one) =>
        powerlessOf(one).some((away) => away.to > outage.to && away.from <= outage.to),
      );
      return {
        ...event({
          kind: 'restart-sequence',
          cause: null,
          start: outage.to,
          end: undefined,
          needed:
            !own && (!next || next.from - outage.to > seconds(GROUPED)) && to - outage.to > seconds(900),
          leansOn: [{ signal: 'volts' as const, from: outage.from, to: outage.to }],
        }),
        device: panel.id,
      };
    });
}

/** Cooling wanted while too few can run: piece by piece between all that moves (handbook 6). */
function losses(place: PlaceTruth): PlaceEvent[] {
  const { units, space, to } = place;
  if (!space) return [];
  const lines = units.map(lineOf);
  const instants = [...new Set(lines.flatMap(({ at }) => at))].filter((at) => at < to).sort((a, b) => a - b);
  const needed = Math.min(space.unitsNeeded, units.length);
  const enough = units.length - needed + 1;
  const levelAt = (at: Instant): 'lost' | 'reduced' | null => {
    const unable = lines.filter((line) => line.isUnable(at)).length;
    if (!lines.some((line) => line.isWanted(at)) || unable === 0) return null;
    return unable >= enough ? 'lost' : 'reduced';
  };
  const found: PlaceEvent[] = [];
  for (const level of ['lost', 'reduced'] as const) {
    const steps = { at: instants, value: instants.map((at) => +(levelAt(at) === level)) };
    const pieces = stretches(steps, (value) => value === 1);
    for (const piece of pieces)
      found.push({
        ...event({
          kind: 'loss-of-cooling',
          cause: level,
          start: piece.from,
          end: endOf(piece, to),
          leansOn: withPauses(pieces, piece).flatMap((part) =>
            (['volts', 'call', 'output', 'alarm'] as const).map((signal) => ({ signal, ...part })),
          ),
        }),
        device: space.id,
      });
  }
  return found;
}

interface AbilityLine {
  readonly at: readonly Instant[];
  isUnable(at: Instant): boolean;
  isWanted(at: Instant): boolean;
}

function lineOf(one: TrueUnit): AbilityLine {
  const { trace, changes } = one;
  const away = powerlessOf(one);
  const latched = changes
    .filter(({ kind }) => kind === 'latched')
    .map(({ at }) => ({
      from: at,
      to: changes.find((next) => next.kind === 'reset' && next.at >= at)?.at ?? Infinity,
    }));
  const within = (all: readonly Stretch[], at: Instant): boolean =>
    all.some(({ from, to }) => from <= at && at < to);
  // a call that was there when power went counts until it is back
  const calledAtLoss = away.filter(({ from }) => valueAt(trace.call, from - 1) === 1);
  return {
    at: [
      ...away.flatMap(({ from, to }) => [from, to]),
      ...latched.flatMap(({ from, to }) => [from, to]),
      ...trace.call.at,
      ...trace.output.at,
    ],
    isUnable: (at) => within(away, at) || within(latched, at),
    isWanted: (at) =>
      (valueAt(trace.call, at) === 1 && valueAt(trace.output, at) === 0) || within(calledAtLoss, at),
  };
}

/** Of the starts that a published event says were together, are there really two closer than the minimum? */
export function areTogether(
  place: PlaceTruth,
  members: readonly string[],
  from: Instant,
  to: Instant,
): boolean {
  const minimum = seconds(place.panel.minimumStartSeparationSeconds);
  const slack = 0.1 * SECOND;
  const starts = startsOf(place).filter(
    ({ one, at }) => members.includes(one.unit.id) && at >= from - slack && at <= to + slack,
  );
  return starts.some((a, i) =>
    starts.slice(i + 1).some((b) => a.one.unit.id !== b.one.unit.id && Math.abs(b.at - a.at) < minimum),
  );
}
