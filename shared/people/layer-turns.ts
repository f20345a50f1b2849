import type { Instant } from '../base/instant.ts';
import type { Layer, Roster, Turn } from './roster.ts';
import { dateOfNumber, dayNumber, instantOfMinutes, wallOf, weekdayOf } from './wall-time.ts';

/**
 * When whom of one layer is on, as half-open stretches between instants that are worked out from wall time (handbook 7).
 * A hand-over that falls within the hours hands over there: two stretches. In time order, never overlapping.
 */
export type Stretch = Turn & { readonly person: string };

export function layerTurns(roster: Roster, layer: Layer, from: Instant, to: Instant): Stretch[] {
  if (layer.people.length === 0 || from >= to) return [];
  const turns = shiftsOf(roster, layer, from, to);
  const open = openTimes(roster, layer, from, to);
  return turns
    .flatMap((turn) => open.map((time) => within(turn, time.from, time.to)))
    .filter((turn) => turn.from < turn.to)
    .sort((a, b) => a.from - b.from);
}

/** From hand-over to hand-over; the nth shift is of the nth person, over and over. */
function shiftsOf({ zone }: Roster, layer: Layer, from: Instant, to: Instant): Stretch[] {
  const first = dayNumber(layer.startsOn);
  const at = (n: number): Instant =>
    instantOfMinutes(dateOfNumber(first + n * layer.days), layer.handOver, zone);
  const end = layer.endsOn === null ? Infinity : instantOfMinutes(layer.endsOn, layer.handOver, zone);
  // two days back: the hand-over may lie late in the day, and a change of the clocks may put it off into the next
  const nearest = Math.floor((dayNumber(wallOf(from, zone)) - first - 2) / layer.days);
  const shifts: Stretch[] = [];
  for (let n = Math.max(0, nearest); at(n) < Math.min(to, end); n++) {
    const person = layer.people[n % layer.people.length]!;
    const shift = within({ from: at(n), to: at(n + 1), person, by: layer.name }, from, Math.min(to, end));
    if (shift.from < shift.to) shifts.push(shift);
  }
  return shifts;
}

interface Time {
  readonly from: Instant;
  readonly to: Instant;
}

/** The times at which the layer holds: its hours, its holidays. Days beside each other are joined. */
function openTimes(roster: Roster, layer: Layer, from: Instant, to: Instant): Time[] {
  const { hours } = layer;
  if (hours === null && layer.holidays === 'as-ever') return [{ from, to }];
  const start = hours?.from ?? 0;
  const until = hours === null ? DAY : start + 1 + ((hours.to - hours.from + DAY - 1) % DAY);
  const holidays = new Set(roster.holidays.map(dayNumber));
  const times: Time[] = [];
  const last = dayNumber(wallOf(to, roster.zone));
  for (let day = dayNumber(wallOf(from, roster.zone)) - 2; day <= last; day++) {
    const date = dateOfNumber(day);
    if (hours !== null && !hours.weekdays.includes(weekdayOf(date))) continue;
    if (layer.holidays !== 'as-ever' && (layer.holidays === 'only') !== holidays.has(day)) continue;
    const begins = instantOfMinutes(date, start, roster.zone);
    addJoined(times, { from: begins, to: instantOfMinutes(date, until, roster.zone) });
  }
  return times;
}

const DAY = 1440;

function addJoined(times: Time[], time: Time): void {
  const before = times.at(-1);
  if (before && before.to >= time.from)
    times[times.length - 1] = { from: before.from, to: Math.max(before.to, time.to) };
  else if (time.from < time.to) times.push(time);
}

const within = <T extends Time>(stretch: T, from: Instant, to: Instant): T => ({
  ...stretch,
  from: Math.max(stretch.from, from),
  to: Math.min(stretch.to, to),
});
