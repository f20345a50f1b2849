import type { Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import { wallOf } from '../people/wall-time.ts';
import type { PowerEvent, PowerEventKind } from '../review/group.ts';
import type { Site } from '../telemetry/site.ts';
import { drawnLength, lengthBetween } from './durations.ts';

/** Words that every sentence and table of a review is made of. */
export interface Named {
  readonly zone: string;
  readonly unit: (id: string) => string;
  readonly panel: (id: string) => string;
  readonly space: (id: string) => string;
}

export function namesOf(site: Site): Named {
  const named = (list: readonly { readonly id: string; readonly name: string }[]) => (id: string) =>
    list.find((one) => one.id === id)?.name ?? id;
  return {
    zone: site.timeZone,
    unit: named(site.units),
    panel: named(site.panels),
    space: named(site.spaces),
  };
}

const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
const two = (value: number): string => String(value).padStart(2, '0');

/** `14:10:07` on the wall of a zone. */
export function secondText(at: Instant, zone: string): string {
  const { hour, minute, second } = wallOf(at, zone);
  return `${two(hour)}:${two(minute)}:${two(second)}`;
}

/** `Tue 24 Nov 2026`; the year stays, a link is for years. */
export function dayText(at: Instant, zone: string): string {
  const { year, month, day } = wallOf(at, zone);
  const weekday = DAYS[new Date(Date.UTC(year, month - 1, day)).getUTCDay()]!;
  return `${weekday} ${day} ${MONTHS[month - 1]!} ${year}`;
}

/** `41 s`, `7:03 min`, `4:47–4:48 min`, `1 h 35 min`, `10–20 s`: how long something lasted. */
export const lastedText = (bounds: Bounds): string =>
  lengthBetween(bounds, drawnLength).replace(/(:\d\d)$/, '$1 min');
/** `0.44 s`, `2.8–3.4 s`, `2:18`: how long between two things, as it is drawn. */
export const apartText = (bounds: Bounds): string => lengthBetween(bounds, drawnLength);

/** `Room 1, Room 2 and Room 3` */
export function listed(names: readonly string[]): string {
  if (names.length < 2) return names[0] ?? '';
  return `${names.slice(0, -1).join(', ')} and ${names.at(-1)!}`;
}

const COUNTS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten'];
export const countText = (count: number): string => COUNTS[count] ?? String(count);
/** `one unit`, `3 units` */
export const counted = (count: number, noun: string): string =>
  `${countText(count)} ${noun}${count === 1 ? '' : 's'}`;

/** `once`, `twice`, `three times` */
export const timesText = (count: number): string =>
  count === 1 ? 'once' : count === 2 ? 'twice' : `${countText(count)} times`;

export const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);

/** `64 %` of the declared voltage */
export const percentText = (perUnit: number): string => `${Math.round(100 * perUnit)} %`;
export function percentBetween([low, high]: Bounds): string {
  const [a, b] = [Math.round(100 * low), Math.round(100 * high)];
  return a === b ? `${a} %` : `${a}–${b} %`;
}

const POWER_EVENT_WORDS: Record<PowerEventKind, string> = {
  outage: 'Outage',
  sag: 'Voltage sag',
  swell: 'Voltage swell',
  'starting-dip': 'Dip at a start of its own units',
  generator: 'Generator supply',
};

/** `Outage`, `Voltage sag to 64 %` */
export const powerEventTitle = ({ kind, lowest }: Pick<PowerEvent, 'kind' | 'lowest'>): string =>
  (kind === 'sag' || kind === 'starting-dip') && lowest !== null
    ? `${POWER_EVENT_WORDS[kind]}: to ${percentText(lowest)}`
    : POWER_EVENT_WORDS[kind];
