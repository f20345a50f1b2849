import { MILLISECOND, SECOND, type Instant } from '../../../shared/base/instant.ts';

/** Wall time in a named zone. Everything that a person reads as a time of day goes through here. */
export interface Zone {
  readonly name: string;
  /** seconds to add to UTC at an instant */
  offset(at: Instant): number;
  /** `13:53` */
  clock(at: Instant): string;
  /** `13:53:07` */
  seconds(at: Instant): string;
  /** `Tue 3 Mar` */
  day(at: Instant): string;
  /** the zone's name as it is then: `CST`, `GMT+8` */
  label(at: Instant): string;
}

const zones = new Map<string, Zone>();

/** A zone by its IANA name; one that this browser doesn't know reads as UTC, and says so in its label. */
export function zoneNamed(name: string): Zone {
  const known = zones.get(name);
  if (known) return known;
  const zone = makeZone(name) ?? makeZone('UTC')!;
  zones.set(name, zone);
  return zone;
}

export const ownZone = (): Zone => zoneNamed(Intl.DateTimeFormat().resolvedOptions().timeZone);

function makeZone(name: string): Zone | null {
  const format = (options: Intl.DateTimeFormatOptions, locale = 'en-GB') =>
    new Intl.DateTimeFormat(locale, { timeZone: name, hourCycle: 'h23', ...options });
  let parts: Intl.DateTimeFormat;
  try {
    parts = format({
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
  } catch {
    return null;
  }
  const clock = format({ hour: '2-digit', minute: '2-digit' });
  const seconds = format({ hour: '2-digit', minute: '2-digit', second: '2-digit' });
  const day = format({ weekday: 'short', day: 'numeric', month: 'short' });
  const label = format({ timeZoneName: 'short' }, 'en-US');
  const date = (at: Instant) => Math.floor(at / MILLISECOND);
  return {
    name,
    offset: (at) => offsetFrom(parts, at),
    clock: (at) => clock.format(date(at)),
    seconds: (at) => seconds.format(date(at)),
    day: (at) => day.format(date(at)).replace(',', ''),
    label: (at) => label.formatToParts(date(at)).find((part) => part.type === 'timeZoneName')?.value ?? name,
  };
}

function offsetFrom(format: Intl.DateTimeFormat, at: Instant): number {
  const second = Math.floor(at / SECOND);
  const field: Record<string, number> = {};
  for (const part of format.formatToParts(second * 1000)) field[part.type] = Number(part.value);
  const wall = Date.UTC(
    field['year']!,
    field['month']! - 1,
    field['day'],
    field['hour'],
    field['minute'],
    field['second'],
  );
  return wall / 1000 - second;
}
