import { inSeconds, seconds, type Instant } from '../../base/instant.ts';
import type { Announced, JournalLine } from './announced.ts';
import {
  countsBy,
  floodsOf,
  HOUR,
  mostOf,
  piecesOf,
  shareInFlood,
  TEN_MINUTES,
  type Flood,
  type Stretch,
} from './rates.ts';
import { chattering, contributors, fleeting, mostStaleInDay, stale, WORST_SHOWN } from './repeats.ts';

/**
 * The measures of handbook 7 over a stretch, for a site or for one person on call, each with what it leans on. A measure
 * that can't be told is null. Targets and verdicts are those of ISA-18.2-2016 and EEMUA 191, read in secondary texts.
 */
export const MEASURE_IDS = [
  'a-day',
  'an-hour',
  'ten-minutes',
  'floods',
  'in-flood',
  'chattering',
  'fleeting',
  'stale',
  'severities',
  'worst-ten',
  'shelved',
  'out-of-service',
  'suppressed',
  'unauthorised',
  'to-accept',
] as const;
export type MeasureId = (typeof MEASURE_IDS)[number];

export type Verdict = 'within' | 'manageable' | 'beyond' | 'no-target';

/** What a figure leans on: an alarm at an instant; without one, a stretch. */
export interface Leant {
  readonly alarm: string | null;
  readonly at: Instant;
  readonly to: Instant | null;
}

export interface Measure {
  readonly id: MeasureId;
  /** a count, a count a time, a share of 1, or seconds; null: can't be told */
  readonly value: number | null;
  /** beside it: the most in one piece, parts of the whole, the longest */
  readonly beside: Readonly<Record<string, number>>;
  readonly verdict: Verdict;
  /** the newest first */
  readonly leans: readonly Leant[];
}

export interface Counted {
  readonly announced: readonly Announced[];
  /** of the same alarms, for what was hidden */
  readonly lines: readonly JournalLine[];
  readonly stretch: Stretch;
  /** alarms that there could be */
  readonly sources: number;
}

/** Acceptable and manageable, an hour and in ten minutes [ISA-18.2-2016/EEMUA 191, secondary: handbook 7]; a day is 24 h. */
const AN_HOUR = [6, 12] as const;
const IN_TEN_MINUTES = [1, 2] as const;
const A_DAY = [24 * AN_HOUR[0], 24 * AN_HOUR[1]] as const;
const SHARE_IN_FLOOD = 0.01;
const FEWER_STALE_THAN = 5;
/** below so many alarm sources a share of the worst ten tells nothing (handbook 7) */
const WORST_TEN_FROM = 200;
const DAY = seconds(86_400);

export function measuresOf(counted: Counted): Measure[] {
  const { stretch } = counted;
  const inside = counted.announced.filter(({ at }) => at >= stretch.from && at < stretch.to);
  return [
    ...rates(inside, stretch),
    ...flooding(inside, stretch),
    many('chattering', chattering(inside), 0),
    many('fleeting', fleeting(inside), 0),
    staleness(counted),
    severities(inside),
    worstTen(inside, counted.sources),
    ...hidden(counted),
    toAccept(inside),
  ];
}

function rates(inside: readonly Announced[], stretch: Stretch): Measure[] {
  const instants = inside.map(({ at }) => at);
  const rate = (id: MeasureId, piece: number, bounds: readonly [number, number]): Measure => {
    const value = inside.length / ((stretch.to - stretch.from) / piece);
    const most = mostOf(countsBy(instants, piece));
    return { id, value, beside: { most }, verdict: atMost(value, bounds), leans: leansOn(inside) };
  };
  return [
    rate('a-day', DAY, A_DAY),
    rate('an-hour', HOUR, AN_HOUR),
    rate('ten-minutes', TEN_MINUTES, IN_TEN_MINUTES),
  ];
}

const atMost = (value: number, [acceptable, manageable]: readonly [number, number]): Verdict =>
  value <= acceptable ? 'within' : value <= manageable ? 'manageable' : 'beyond';

function flooding(inside: readonly Announced[], stretch: Stretch): Measure[] {
  const floods = floodsOf(
    inside.map(({ at }) => at),
    stretch,
  );
  const share = shareInFlood(floods, stretch);
  const leans = floods.map(({ from, to }) => ({ alarm: null, at: from, to })).toReversed();
  const most = Math.max(0, ...floods.map(({ count }: Flood) => count));
  return [
    { id: 'floods', value: floods.length, beside: { most }, verdict: 'no-target', leans },
    {
      id: 'in-flood',
      value: share,
      beside: { pieces: piecesOf(stretch, TEN_MINUTES) },
      verdict: share < SHARE_IN_FLOOD ? 'within' : 'beyond',
      leans,
    },
  ];
}

const many = (id: MeasureId, found: readonly Announced[], target: number): Measure => ({
  id,
  value: found.length,
  beside: { sources: new Set(found.map(({ key }) => key)).size },
  verdict: found.length <= target ? 'within' : 'beyond',
  leans: leansOn(found),
});

function staleness({ announced, stretch }: Counted): Measure {
  const value = mostStaleInDay(announced, stretch);
  const all = stale(announced, stretch);
  return {
    id: 'stale',
    value,
    beside: { now: all.filter(({ leftAt }) => leftAt === null || leftAt >= stretch.to).length },
    verdict: value < FEWER_STALE_THAN ? 'within' : 'beyond',
    leans: leansOn(all),
  };
}

/** About 80/15/5 of minor, major and critical: a guide to whether priorities still sort, no bound for a few alarms. */
function severities(inside: readonly Announced[]): Measure {
  const share = (severity: Announced['severity']): number =>
    inside.length === 0 ? 0 : inside.filter((one) => one.severity === severity).length / inside.length;
  return {
    id: 'severities',
    value: inside.length === 0 ? null : share('critical'),
    beside: { critical: share('critical'), major: share('major'), minor: share('minor') },
    verdict: 'no-target',
    leans: leansOn(inside.filter(({ severity }) => severity === 'critical')),
  };
}

function worstTen(inside: readonly Announced[], sources: number): Measure {
  const worst = contributors(inside).slice(0, WORST_SHOWN);
  const told = sources >= WORST_TEN_FROM && inside.length > 0;
  const sum = worst.reduce((total, { count }) => total + count, 0);
  return {
    id: 'worst-ten',
    value: told ? sum / inside.length : null,
    beside: { sources },
    verdict: 'no-target',
    leans: worst.map(({ alarm, newest }) => ({ alarm, at: newest, to: null })),
  };
}

const LETTERS = { shelved: 'G', 'out-of-service': 'I', suppressed: 'H' } as const;
const HIDES: Record<keyof typeof LETTERS, readonly JournalLine['what'][]> = {
  shelved: ['shelved'],
  'out-of-service': ['taken-out-of-service'],
  // what is explained from its beginning is raised so
  suppressed: ['suppressed', 'raised', 'raised-again'],
};
const isUnauthorised = ({ what, by, why }: JournalLine): boolean =>
  (what === 'shelved' || what === 'taken-out-of-service') && (by === null || why === null || why === '');

/** What was kept from people, and whether anybody did so without saying who and why: that should never be. */
function hidden({ lines, stretch: { from, to } }: Counted): Measure[] {
  const inside = lines.filter(({ at }) => at >= from && at < to);
  const leans = (some: readonly JournalLine[]): Leant[] =>
    some.map(({ alarm, at }) => ({ alarm, at, to: null })).toReversed();
  const measures = (Object.keys(HIDES) as (keyof typeof HIDES)[]).map((id): Measure => {
    const found = inside.filter(({ what, state }) => HIDES[id].includes(what) && state === LETTERS[id]);
    const now = nowIn(lines, id);
    return { id, value: found.length, beside: { now }, verdict: 'no-target', leans: leans(found) };
  });
  const wrong = inside.filter(isUnauthorised);
  return [
    ...measures,
    {
      id: 'unauthorised',
      value: wrong.length,
      beside: {},
      verdict: wrong.length === 0 ? 'within' : 'beyond',
      leans: leans(wrong),
    },
  ];
}

function nowIn(lines: readonly JournalLine[], id: keyof typeof LETTERS): number {
  const last = new Map(lines.map(({ alarm, state }) => [alarm, state]));
  return [...last.values()].filter((state) => state === LETTERS[id]).length;
}

/** The median wait of those that were accepted (of two the shorter), s; beside it the longest, and how many nobody has taken. */
function toAccept(inside: readonly Announced[]): Measure {
  const taken = inside.filter(({ acceptedAt }) => acceptedAt !== null);
  const waits = taken.map(({ at, acceptedAt }) => inSeconds(acceptedAt! - at)).toSorted((a, b) => a - b);
  const slowest = taken.toSorted((a, b) => b.acceptedAt! - b.at - (a.acceptedAt! - a.at));
  return {
    id: 'to-accept',
    value: waits.length === 0 ? null : (waits[Math.floor((waits.length - 1) / 2)] ?? null),
    beside: { longest: waits.at(-1) ?? 0, accepted: taken.length, never: inside.length - taken.length },
    verdict: 'no-target',
    leans: slowest.map(({ alarm, at, acceptedAt }) => ({ alarm, at, to: acceptedAt })),
  };
}

const leansOn = (some: readonly Announced[]): Leant[] =>
  some.map(({ alarm, at, goneAt }) => ({ alarm, at, to: goneAt })).toReversed();
