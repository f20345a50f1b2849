import { inSeconds, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import type { Revision, RevisionWhy, Said } from '../inference/revision.ts';
import { isSignalName, signalRow } from '../telemetry/signals.ts';
import { spokenLength } from './durations.ts';
import { eventSentence } from './event-sentences.ts';

/**
 * What was said of an event before, what is said instead, and why, in sentences (contract 4: amended and withdrawn
 * visibly). `clock` writes a time of day, `day` a day; nothing here reads a clock.
 */
export interface RevisionWords {
  readonly clock: (instant: Instant) => string;
  readonly day: (instant: Instant) => string;
  /** what a device is called */
  readonly nameOf: (device: string) => string;
}

export interface RevisionSentence {
  /** `Soft lockout, high pressure; 02:50:10 to 02:53:40` */
  readonly said: string;
  /** `its start moved from 02:50:10 to 02:50:14`; empty: nothing that a person would notice */
  readonly changes: readonly string[];
  /** `late data of gateway east (unit-1’s control voltage of 02:40:05), learned 5 h late` */
  readonly why: string;
}

/** `next`: what was said after it, which is the next revision's word or, for the last one, the event itself. */
export function revisionSentence(
  event: EventDraft,
  { said, why }: Pick<Revision, 'said' | 'why'>,
  next: Said,
  words: RevisionWords,
): RevisionSentence {
  return {
    said: saidText(event, said, words),
    changes: changesOf(event, said, next, words),
    why: whyText(why, words),
  };
}

function saidText(event: EventDraft, said: Said, words: RevisionWords): string {
  if (said.withdrawn) return 'that it hadn’t happened';
  const { title } = eventSentence({ ...event, ...said }, words.clock);
  const end = said.end === null ? 'not over' : spanText(said.end, words);
  const start = spanText(said.start, words);
  return said.end !== null && isSame(said.start, said.end)
    ? `${title}; ${start}`
    : `${title}; ${start} to ${end}`;
}

function changesOf(event: EventDraft, was: Said, now: Said, words: RevisionWords): string[] {
  if (was.withdrawn !== now.withdrawn) return [now.withdrawn ? 'it was withdrawn' : 'it stands again'];
  const changes: string[] = [];
  if (!isSame(was.start, now.start))
    changes.push(`its start moved from ${spanText(was.start, words)} to ${spanText(now.start, words)}`);
  if (!isSame(was.end, now.end)) changes.push(endText(was.end, now.end, words));
  if (was.cause !== now.cause || was.causeCertainty !== now.causeCertainty)
    changes.push(`its cause: ${causeOf(event, now)}, where it was ${causeOf(event, was)}`);
  if (was.certainty !== now.certainty) changes.push(`${now.certainty}, where it was ${was.certainty}`);
  return changes;
}

function endText(was: Span | null, now: Span | null, words: RevisionWords): string {
  if (was === null) return `it ended at ${spanText(now!, words)}`;
  if (now === null) return `it isn’t over, where its end was ${spanText(was, words)}`;
  return `its end moved from ${spanText(was, words)} to ${spanText(now, words)}`;
}

/** The cause as the event's own title has it, without the term. */
function causeOf(event: EventDraft, said: Said): string {
  if (said.cause === null || said.pending.includes('cause')) return 'not known yet';
  const facts = { ...event, ...said, kind: 'soft-lockout' as const, certainty: 'certain' as const };
  return eventSentence(facts, String).title.replace(/^Soft lockout[,;:] /, '');
}

const isSame = (a: Span | null, b: Span | null): boolean =>
  a === b || (a !== null && b !== null && a.earliest === b.earliest && a.latest === b.latest);

function spanText({ earliest, latest }: Span, { clock }: RevisionWords): string {
  const [from, to] = [clock(earliest), clock(latest)];
  return from === to || inSeconds(latest - earliest) <= 1 ? to : `${from}–${to}`;
}

export function whyText(why: RevisionWhy, words: RevisionWords): string {
  switch (why.kind) {
    case 'late-data':
      return lateText(why, words);
    case 'configuration':
      return why.from === null
        ? 'the site’s configuration was changed for all time'
        : `the site’s configuration was changed from ${words.day(why.from)}, ${words.clock(why.from)} on`;
    case 'rules':
      return 'the program’s own rules were changed';
    case 'in-order':
      return 'what came next showed it';
  }
}

function lateText(why: RevisionWhy & { kind: 'late-data' }, words: RevisionWords): string {
  const whose = why.gateway === null ? 'late data' : `late data of gateway ${why.gateway}`;
  const point =
    why.device !== null && why.signal !== null && isSignalName(why.signal) && why.signal !== 'life'
      ? `${words.nameOf(why.device)}’s ${signalRow(why.signal).name}`
      : null;
  const about = why.t === null ? null : `${words.day(why.t)}, ${words.clock(why.t)}`;
  const told = point && about ? ` (${point} of ${about})` : about ? ` (of ${about})` : '';
  const lateBy = why.t === null || why.learnedAt === null ? 0 : inSeconds(why.learnedAt - why.t);
  return `${whose}${told}${lateBy >= 1 ? `, learned ${spokenLength(lateBy)} late` : ''}`;
}
