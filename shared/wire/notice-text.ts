import type { Certainty } from '../inference/event.ts';
import type { MessageReason } from '../people/telling.ts';
import { clockText } from '../people/wall-time.ts';
import { eventSentence } from './event-sentences.ts';
import { CAUTIONS, firstChecks } from './first-checks.ts';
import type { NoticeFacts } from './notice-facts.ts';

/**
 * A notice as an e-mail (handbook 7 and 8): whether to go now comes first, then site, unit, what the control did and when,
 * how sure that is, what it means for cooling and how long there is, the first things to check, the cautions, the link.
 */
export interface MailText {
  readonly subject: string;
  readonly text: string;
}

export interface Links {
  /** opens a page with one button; null where there is nothing to accept */
  readonly accept: string | null;
  readonly alarm: string;
}

/** What is said before everything else where it isn't the first page. */
const REASONS: Record<MessageReason, string> = {
  page: '',
  again: 'Nobody has answered yet. ',
  worse: 'It has become worse. ',
  cleared: 'It has cleared; it is still yours until it is closed. ',
  taken: 'Somebody else has taken it: you needn’t do anything. ',
  'asked-next-step':
    'You accepted this and nothing has followed. Say what you do, or it goes to the next person in 5 min. ',
  'asked-alone':
    'You have been on site for two hours. Say that you are all right, or somebody is told in 5 min. ',
  exhausted: 'Everybody was asked and nobody has answered. ',
  'alone-on-site': 'The person on site hasn’t answered for two hours and 5 min. Try to reach them. ',
  test: 'This is a test message: nothing has happened. ',
};

const SURE: Record<Certainty, string> = {
  certain: 'certain: nothing else fits what was seen',
  probable: 'probable: anything else would need a coincidence',
  possible: 'possible: other things fit as well',
};

export function mailText(facts: NoticeFacts, reason: MessageReason, links: Links): MailText {
  const where = facts.device === null ? facts.site.name : `${facts.site.name}, ${facts.device.name}`;
  const clock = (instant: number) => clockText(instant, facts.zone);
  const { title, course, pending } = eventSentence(facts.event, clock);
  const checks = firstChecks(facts.event.kind, facts.event.cause);
  const urgency = showsUrgency(reason) ? facts.urgency.says : '';
  return {
    subject: oneLine(subjectOf(where, title, reason, facts)),
    text: blocks([
      [`${REASONS[reason]}${urgency}`.trim()],
      [
        `${where}: ${title}.`,
        ...(course ? [capital(course) + '.'] : []),
        `Times are those of ${facts.zone}.`,
      ],
      [...sureLines(facts), ...(pending ? [`${capital(pending)}.`] : [])],
      facts.cooling,
      facts.repaired,
      facts.explains.length > 0 ? [`It explains besides: ${facts.explains.join(', ')}.`] : [],
      ...(reason === 'cleared' || reason === 'taken' ? [] : workBlocks(checks)),
      linkLines(links),
    ]),
  };
}

/** Messages that only tell of an end needn't say whether to go. */
const showsUrgency = (reason: MessageReason): boolean => reason !== 'cleared' && reason !== 'taken';

const SUBJECT_WORDS: Partial<Record<MessageReason, string>> = {
  worse: 'Worse: ',
  cleared: 'Cleared: ',
  taken: 'Taken: ',
  'asked-next-step': 'Still on it? ',
  'asked-alone': 'Are you all right? ',
  exhausted: 'Nobody answered: ',
  'alone-on-site': 'Alone on site: ',
  test: 'Test: ',
};

/** The page and what repeats it have one subject, so that they stand together. */
function subjectOf(where: string, title: string, reason: MessageReason, { urgency }: NoticeFacts): string {
  const go = { 'go-now': 'go now', 'can-wait': 'can wait', 'not-known': 'how long can’t be told' }[
    urgency.answer
  ];
  return `${SUBJECT_WORDS[reason] ?? ''}${where}: ${title}${showsUrgency(reason) ? ` – ${go}` : ''}`;
}

function sureLines({ event }: NoticeFacts): string[] {
  const that = `How sure: ${SURE[event.certainty]}.`;
  const sameForCause =
    event.causeCertainty === null || event.cause === null || event.pending.includes('cause');
  return sameForCause ? [that] : [that, `How sure of the cause: ${SURE[event.causeCertainty]}.`];
}

const workBlocks = (checks: readonly string[]): string[][] => [
  checks.length > 0
    ? ['Look at this first, in this order:', ...checks.map((check, n) => `${n + 1}. ${check}`)]
    : [],
  ['Cautions:', ...CAUTIONS.map((caution) => `- ${caution}`)],
];

const linkLines = ({ accept, alarm }: Links): string[] => [
  ...(accept === null ? [] : [`Accept it: ${accept}`]),
  `Everything about it: ${alarm}`,
];

const blocks = (parts: readonly (readonly string[])[]): string =>
  parts
    .map((lines) => lines.filter((line) => line !== '').join('\n'))
    .filter((block) => block !== '')
    .join('\n\n')
    .concat('\n');

const LONGEST_SUBJECT = 200;

/** A name with a line break in it must not begin another header (RFC 5322 section 2.2). */
function oneLine(text: string): string {
  const line = text.replace(/\p{Cc}+/gu, ' ').trim();
  return line.length <= LONGEST_SUBJECT ? line : `${line.slice(0, LONGEST_SUBJECT - 1)}…`;
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
