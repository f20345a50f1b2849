import { seconds, type Instant } from '../../base/instant.ts';
import type { Announced } from './announced.ts';
import type { Stretch } from './rates.ts';

/** Alarms that tell too little for what they ask of people (handbook 7): chattering, fleeting, stale, and the worst. */
const CHATTERS = 3;
const CHATTERS_WITHIN = seconds(60);
const FLEETING = seconds(10);
const STALE = seconds(24 * 3600);
const DAY = seconds(86_400);
export const WORST_SHOWN = 10;

const byKey = (announced: readonly Announced[]): Map<string, Announced[]> => {
  const found = new Map<string, Announced[]>();
  for (const one of announced) {
    const own = found.get(one.key);
    if (own) own.push(one);
    else found.set(one.key, [one]);
  }
  return found;
};

/** Those that belong to three or more of one source within 60 s, both ends included. In order of time. */
export function chattering(announced: readonly Announced[]): Announced[] {
  const found = new Set<Announced>();
  for (const own of byKey(announced).values())
    for (let n = CHATTERS - 1; n < own.length; n++)
      if (own[n]!.at - own[n - CHATTERS + 1]!.at <= CHATTERS_WITHIN)
        for (const one of own.slice(n - CHATTERS + 1, n + 1)) found.add(one);
  return announced.filter((one) => found.has(one));
}

/** Their condition went within 10 s: nobody could have done anything. */
export const fleeting = (announced: readonly Announced[]): Announced[] =>
  announced.filter(({ at, goneAt }) => goneAt !== null && goneAt - at < FLEETING);

/** In the list for more than 24 h, and still so at some time of the stretch. */
export const stale = (announced: readonly Announced[], { from, to }: Stretch): Announced[] =>
  announced.filter(({ at, leftAt }) => {
    const left = leftAt ?? to;
    return Math.min(left, to) - at > STALE && left > from;
  });

/** The most that were stale on any one day; days are counted from the stretch's beginning. */
export function mostStaleInDay(announced: readonly Announced[], stretch: Stretch): number {
  const all = stale(announced, stretch);
  let most = 0;
  for (let day = stretch.from; day < stretch.to; day += DAY) {
    const end = Math.min(day + DAY, stretch.to);
    const then = all.filter(({ at, leftAt }) => at + STALE < end && (leftAt ?? stretch.to) > day);
    most = Math.max(most, then.length);
  }
  return most;
}

export interface Contributor {
  readonly key: string;
  readonly count: number;
  readonly newest: Instant;
  /** an alarm of it, to look at */
  readonly alarm: string;
}

/** Sources by how often they asked, the worst first; of equals the one that asked last. */
export const contributors = (announced: readonly Announced[]): Contributor[] =>
  [...byKey(announced)]
    .map(([key, own]) => {
      const newest = own.at(-1)!;
      return { key, count: own.length, newest: newest.at, alarm: newest.alarm };
    })
    .toSorted((a, b) => b.count - a.count || b.newest - a.newest || (a.key < b.key ? -1 : 1));
