import type { Instant } from '../../base/instant.ts';
import type { SignalName } from '../../telemetry/signals.ts';
import type { Unit } from '../../telemetry/site.ts';
import type { EdgeOf } from '../edge.ts';
import type { Evidence } from '../event.ts';
import type { Place } from '../members/place.ts';
import { wireOf } from '../members/wired.ts';
import { linesOf } from './ability.ts';
import { and, isNot, NO, or, readLine, type Level, type Line, type Reading, type Truth } from './line.ts';
import type { LossLevel, SpaceState, UnitLines } from './state.ts';
import { callMeansCooling } from './waits.ts';

/**
 * Is cooling reduced or lost from an instant on (handbook 6)? Cooling is wanted, by a call that waits or a space above its
 * limit, while fewer units are able than are installed (reduced) or than the space needs (lost). Worked out twice over the
 * lines, as believed and as sure; with a line that may be either way, so may the answer.
 */
export type Extent = 'must' | 'may' | 'not';

export interface Outlook {
  readonly believed: Readonly<Record<LossLevel, Extent>>;
  readonly sure: Readonly<Record<LossLevel, Extent>>;
  /** as believed */
  readonly unable: readonly string[];
  /** something wired isn't known */
  readonly unknown: boolean;
}

export function outlookAt(state: SpaceState, place: Place, at: Instant): Outlook {
  const measured = place.points.some(({ signal }) => signal === 'space-temperature');
  const hot = measured ? readLine(state.hotLine, at) : NO;
  const units = place.units.map((unit) => readUnit(unit, linesOf(state, unit.id), at));
  const wanted = units.reduce((demand, unit) => or(demand, unit.demand), hot);
  const extents = (way: keyof Reading) =>
    extentsOf(
      place,
      wanted[way],
      units.map(({ unable }) => unable[way]),
    );
  return {
    believed: extents('believed'),
    sure: extents('sure'),
    unable: place.units.filter((_, i) => units[i]!.unable.believed === 'yes').map(({ id }) => id),
    unknown: (measured && !state.hotLine.now.known) || units.some(({ unknown }) => unknown),
  };
}

interface UnitReading {
  readonly unable: Reading;
  readonly demand: Reading;
  readonly unknown: boolean;
}

function readUnit(unit: Unit, lines: UnitLines, at: Instant): UnitReading {
  const wired = (of: EdgeOf, line: Line): Reading => (wireOf(unit, of) ? readLine(line, at) : NO);
  const read = (line: Line): Reading => readLine(line, at);
  const troubled = or(read(lines.failed), read(lines.dropping));
  const stopped = or(or(wired('power', lines.powerless), read(lines.latched)), troubled);
  const unable = or(stopped, read(lines.waiting));
  const unknown = STATES.some((of) => wireOf(unit, of) && !lineOf(lines, of).now.known);
  if (!callMeansCooling(unit)) return { unable, demand: NO, unknown };
  const lasts = read(lines.calledAtLoss);
  if (!wireOf(unit, 'call'))
    return { unable, demand: or(or(read(lines.latched), read(lines.failed)), lasts), unknown };
  const idle = wireOf(unit, 'run') ? isNot(read(lines.run)) : unable;
  return { unable, demand: or(and(read(lines.call), or(idle, troubled)), lasts), unknown };
}

const STATES: readonly EdgeOf[] = ['run', 'power', 'call'];
const lineOf = (lines: UnitLines, of: EdgeOf): Line =>
  ({ run: lines.run, power: lines.powerless, call: lines.call })[of];

export const neededOf = ({ space, units }: Place): number => Math.min(space?.unitsNeeded ?? 1, units.length);

function extentsOf(place: Place, wanted: Truth, unable: readonly Truth[]): Record<LossLevel, Extent> {
  const installed = unable.length;
  const least = unable.filter((one) => one === 'yes').length;
  const most = unable.filter((one) => one !== 'no').length;
  /** this many unable leave fewer than are needed */
  const enough = installed - neededOf(place) + 1;
  const extent = (must: boolean, may: boolean): Extent =>
    wanted === 'yes' && must ? 'must' : wanted !== 'no' && may ? 'may' : 'not';
  return {
    lost: extent(least >= enough, most >= enough),
    reduced: extent(least >= 1 && most < enough, most >= 1 && Math.max(1, least) < enough),
  };
}

const SAYS: readonly (readonly [keyof UnitLines, SignalName, string])[] = [
  ['latched', 'lockout-alarm', 'hard lockout'],
  ['powerless', 'control-voltage', 'no control power'],
  ['failed', 'compressor-current', 'output on, no current'],
  ['dropping', 'compressor-output', 'three undervoltage holds in a row, each within 10 s of a start'],
  ['waiting', 'cooling-call', ''],
];

const WAITS: Readonly<Record<string, string>> = {
  overdue: 'its wait is over and it hasn’t started',
  'waits-while-hot': 'waits while the space is above its limit',
};

/** What it leans on, as believed at the instant. */
export function evidenceAt(state: SpaceState, place: Place, at: Instant): Evidence[] {
  const unable = place.units.flatMap((unit) => unableEvidence(unit, linesOf(state, unit.id)));
  const hot = state.hotLine.now;
  if (hot.so)
    return [
      ...unable,
      saying('space-temperature', {}, hot.since?.latest ?? at, 'the space is above its limit'),
    ];
  const calling = place.units.find(
    (unit) => readUnit(unit, linesOf(state, unit.id), at).demand.believed === 'yes',
  );
  return calling ? [...unable, demandEvidence(calling, linesOf(state, calling.id), at)] : unable;
}

export function unableEvidence(
  unit: Unit,
  lines: UnitLines,
  level: (line: Line) => Level = (line) => line.now,
): Evidence[] {
  const found = SAYS.find(([name]) => level(lines[name]).so);
  if (!found) return [];
  const [name, named, says] = found;
  const { since, why } = level(lines[name]);
  const signal = unit.points.some((point) => point.signal === named) ? named : wireOf(unit, 'run')?.signal;
  return [saying(signal ?? named, { device: unit.id }, since?.latest ?? 0, says || WAITS[why] || why)];
}

function demandEvidence(unit: Unit, lines: UnitLines, at: Instant): Evidence {
  const { call, calledAtLoss } = lines;
  if (wireOf(unit, 'call') && call.now.so)
    return saying('cooling-call', { device: unit.id }, call.now.since?.latest ?? at, 'its call waits');
  if (calledAtLoss.now.so)
    return saying(
      'cooling-call',
      { device: unit.id },
      calledAtLoss.now.since!.latest,
      'it was called when its power went',
    );
  return saying('lockout-alarm', { device: unit.id }, at, 'a lockout lasts no longer than its call');
}

const saying = (signal: SignalName, about: { device?: string }, t: Instant, says: string): Evidence => ({
  signal,
  ...about,
  t,
  value: null,
  says,
});
