import type { Instant } from '../../base/instant.ts';
import type { Announced } from './announced.ts';

/** A message that asked a person about an alarm. */
export interface Asking {
  readonly alarm: string;
  readonly at: Instant;
}

/**
 * What one person was asked: of each announcement the first message to them, however often it was repeated. Accepted counts
 * where they did it themselves.
 */
export function askedOf(
  announced: readonly Announced[],
  askings: readonly Asking[],
  name: string,
): Announced[] {
  const byAlarm = new Map<string, Announced[]>();
  for (const one of announced) byAlarm.set(one.alarm, [...(byAlarm.get(one.alarm) ?? []), one]);
  const first = new Map<Announced, Instant>();
  for (const { alarm, at } of askings) {
    const about = byAlarm.get(alarm)?.findLast((one) => one.at <= at);
    if (about && at < (first.get(about) ?? Infinity)) first.set(about, at);
  }
  return [...first]
    .map(([one, at]) => ({
      ...one,
      at,
      acceptedAt: one.acceptedBy === name && one.acceptedAt !== null ? Math.max(at, one.acceptedAt) : null,
    }))
    .toSorted((a, b) => a.at - b.at || (a.alarm < b.alarm ? -1 : 1));
}
