import { SECOND, inSeconds, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { Certainty } from '../inference/event.ts';
import type { UnitPhase, UnitStanding } from '../inference/standing.ts';
import { CAUSE_WORDS, causeText } from './cause-words.ts';
import { clockLength, lengthBetween, spokenAge } from './durations.ts';

/**
 * What a unit is doing, as one sentence: state × certainty → words, the trade's term first (architecture 7). The board,
 * the chart and the notices all speak through this table, so that no two of them call one state by two names. Every
 * table here is total: a new phase or certainty doesn't compile until it has its words.
 * Time is an argument; nothing here reads a clock.
 */

/** How the reader sees time. */
export interface Reader {
  /** server time; where the data are stale, the time that they are from */
  readonly now: Instant;
  /** the data are older than 15 s: countdowns stand still and say so */
  readonly frozen: boolean;
  /** wall time of the site, `13:53` */
  readonly clock: (instant: Instant) => string;
}

/** Who is needed because of it. A wait that ends by itself needs nobody (handbook 6). */
export type Need = 'nobody' | 'someone' | 'not-known';

export interface UnitSentence {
  /** the state, trade's term first: `Soft lockout, probably low pressure` */
  readonly what: string;
  /** what comes next and when: `retries in 1:23`; this part counts */
  readonly next: string | null;
  /** what else the reader should know: `call waiting` */
  readonly notes: readonly string[];
  readonly need: Need;
}

/** The trade's term for each phase, and how it is said when it isn't certain. */
export const PHASE_WORDS: Record<UnitPhase, Record<Certainty, string>> = {
  running: { certain: 'Running', probable: 'Probably running', possible: 'Possibly running' },
  ready: { certain: 'Ready', probable: 'Probably ready', possible: 'Possibly ready' },
  'off-delay': hedged('Off-cycle delay'),
  'power-up-delay': {
    certain: 'Power came back',
    probable: 'Power probably came back',
    possible: 'Power possibly came back',
  },
  'soft-lockout': hedged('Soft lockout'),
  'undervoltage-hold': hedged('Undervoltage hold'),
  'hard-lockout': hedged('Hard lockout'),
  'failed-start': hedged('Failed start'),
  'no-power': hedged('No control power'),
  stopped: { certain: 'Stopped', probable: 'Probably stopped', possible: 'Possibly stopped' },
  'not-known': { certain: 'Not known', probable: 'Not known', possible: 'Not known' },
};

function hedged(term: string): Record<Certainty, string> {
  return { certain: term, probable: `${term} is probable`, possible: `${term} is possible` };
}

/** What the unit does when its wait is over; null where it isn't waiting for a time. */
const WAIT_VERBS: Record<UnitPhase, string | null> = {
  running: null,
  ready: null,
  'off-delay': 'may start',
  'power-up-delay': 'may start',
  'soft-lockout': 'retries',
  'undervoltage-hold': 'may start',
  'hard-lockout': null,
  'failed-start': null,
  'no-power': null,
  stopped: null,
  'not-known': null,
};

/** What ends a state that no time ends. */
const ENDINGS: Record<UnitPhase, string | null> = {
  running: null,
  ready: null,
  'off-delay': null,
  'power-up-delay': null,
  'soft-lockout': null,
  'undervoltage-hold': null,
  'hard-lockout': 'stays off until the call or the power is broken',
  'failed-start': 'output on, no current',
  'no-power': 'waits its power-up delay when power is back',
  stopped: null,
  'not-known': null,
};

const NEEDS: Record<UnitPhase, Need> = {
  running: 'nobody',
  ready: 'nobody',
  'off-delay': 'nobody',
  'power-up-delay': 'nobody',
  'soft-lockout': 'nobody',
  'undervoltage-hold': 'nobody',
  'hard-lockout': 'someone',
  'failed-start': 'someone',
  'no-power': 'someone',
  stopped: 'nobody',
  'not-known': 'not-known',
};

/** What is said of how long it has lasted, after the words of the phase. */
const SINCE: Record<UnitPhase, 'for' | 'ago' | 'at' | null> = {
  running: 'for',
  ready: null,
  'off-delay': null,
  'power-up-delay': null,
  'soft-lockout': null,
  'undervoltage-hold': null,
  'hard-lockout': null,
  'failed-start': 'for',
  'no-power': 'for',
  stopped: 'ago',
  'not-known': 'at',
};

export function unitSentence(unit: UnitStanding, reader: Reader): UnitSentence {
  const asOf = reader.frozen ? `, as of ${reader.clock(reader.now)}; not live` : '';
  const wait = waitText(unit, reader);
  return {
    what: `${PHASE_WORDS[unit.phase][unit.certainty]}${sinceText(unit, reader)}${reasonText(unit)}`,
    next: wait === null ? ENDINGS[unit.phase] : `${wait}${asOf}`,
    notes: notesOf(unit, reader),
    need: needOf(unit),
  };
}

/** The whole sentence in one string, for reading aloud and for notices. */
export function spokenSentence(sentence: UnitSentence): string {
  const main = sentence.next === null ? sentence.what : `${sentence.what} – ${sentence.next}`;
  return [main, ...sentence.notes].join(' · ');
}

/** A wait that should be over and isn't needs someone, whatever it was a wait for. */
export const needOf = (unit: UnitStanding): Need => (unit.overdue ? 'someone' : NEEDS[unit.phase]);

/** Does the unit come back without anybody: a wait that ends by itself, with cooling wanted (handbook 6). */
export const comesBack = (unit: UnitStanding): 'retries' | 'restarts' | null => {
  if (unit.overdue) return null;
  if (unit.phase === 'soft-lockout' || unit.phase === 'undervoltage-hold') return 'retries';
  return unit.phase === 'power-up-delay' ? 'restarts' : null;
};

/**
 * The time left of a wait: `in 1:23`; polled, `in 1:10–1:20`; unseen at zero, `due 0:08 ago, not yet seen`; overdue once
 * everything is known through it and it hasn't happened. Within a second counts as exact: the later end is shown.
 */
export function timeLeft(until: Span, now: Instant, overdue: boolean): string {
  const late = inSeconds(now - until.latest);
  if (overdue) return `overdue by ${clockLength(late)}`;
  if (late >= 1) return `due ${clockLength(late)} ago, not yet seen`;
  if (late >= 0) return 'due now, not yet seen';
  const least = Math.ceil(inSeconds(until.earliest - now));
  const most = Math.ceil(-late);
  if (until.latest - until.earliest <= SECOND) return `in ${clockLength(most)}`;
  if (least <= 0) return `due now, at the latest in ${clockLength(most)}`;
  return `in ${lengthBetween([least, most], clockLength)}`;
}

function waitText(unit: UnitStanding, reader: Reader): string | null {
  const verb = WAIT_VERBS[unit.phase];
  if (verb === null || unit.until === null) return null;
  const left = timeLeft(unit.until, reader.now, unit.overdue);
  if (unit.overdue) return `${verb === 'retries' ? 'retry' : 'start'} ${left}`;
  return left.startsWith('in') ? `${verb} ${left}` : `${verb === 'retries' ? 'retry' : 'start'} ${left}`;
}

function sinceText(unit: UnitStanding, reader: Reader): string {
  if (unit.since === null) return '';
  switch (SINCE[unit.phase]) {
    case 'for':
      return ` ${unit.phase === 'running' ? '' : 'for '}${spokenAge(unit.since, reader.now)}`;
    case 'ago':
      return ` ${spokenAge(unit.since, reader.now)} ago`;
    case 'at':
      return ` since ${reader.clock(unit.since.earliest)}`;
    case null:
      return '';
  }
}

/** `, probably low pressure`; after a hedged term a semicolon keeps the two certainties apart. */
function reasonText(unit: UnitStanding): string {
  const stop = STOPS[unit.phase];
  const mark = unit.certainty === 'certain' || unit.phase === 'stopped' ? ', ' : '; ';
  if (stop && unit.pending.includes('cause')) return '; reason not known yet';
  if (unit.phase === 'stopped' && (unit.cause === null || unit.cause === 'unknown'))
    return '; the reason can’t be told from what is wired';
  if (!stop || unit.cause === null) return '';
  if (unit.cause === 'unknown') return `; ${CAUSE_WORDS.unknown}`;
  return `${mark}${causeText(unit.cause, unit.causeCertainty ?? 'possible')}`;
}

/** Phases whose reason is worth words. */
const STOPS: Record<UnitPhase, boolean> = {
  running: false,
  ready: false,
  'off-delay': false,
  'power-up-delay': false,
  'soft-lockout': true,
  'undervoltage-hold': false,
  'hard-lockout': true,
  'failed-start': true,
  'no-power': true,
  stopped: true,
  'not-known': false,
};

function notesOf(unit: UnitStanding, reader: Reader): string[] {
  const notes: string[] = [];
  const call = CALL_NOTES[unit.phase];
  if (call !== null && unit.call !== null) notes.push(unit.call ? call.present : call.absent);
  if (unit.until !== null && unit.untilFrom === 'assumed') notes.push('delay assumed, not recorded');
  if (unit.phase === 'not-known') notes.push(...lastSeenNote(unit));
  if (unit.phase === 'hard-lockout' && unit.since !== null)
    notes.push(`latched ${spokenAge(unit.since, reader.now)} ago`);
  return notes.filter((note) => note !== '');
}

/** What the call says beside each phase. */
const CALL_NOTES: Record<UnitPhase, { readonly present: string; readonly absent: string } | null> = {
  running: { present: '', absent: 'no call' },
  ready: { present: 'call present', absent: 'no call' },
  'off-delay': { present: 'call waiting', absent: 'no call' },
  'power-up-delay': { present: 'call waiting', absent: 'no call' },
  'soft-lockout': null,
  'undervoltage-hold': { present: 'call waiting', absent: 'no call' },
  'hard-lockout': null,
  'failed-start': null,
  'no-power': null,
  stopped: { present: 'call present', absent: 'no call' },
  'not-known': null,
};

function lastSeenNote(unit: UnitStanding): string[] {
  const output = unit.lastSeen['compressor-output']?.value ?? null;
  return output === null ? [] : [`last seen ${output === 1 ? 'running' : 'off'}`];
}
