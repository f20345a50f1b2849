import type { MessageReason } from '../people/telling.ts';
import { clockText } from '../people/wall-time.ts';
import { eventSentence } from './event-sentences.ts';
import type { NoticeFacts } from './notice-facts.ts';

/**
 * A notice to be read aloud by a machine to somebody who was asleep a moment ago: short sentences, no link, no sign or
 * abbreviation that a machine spells out, times as one says them. The most important first, and said once more at the end.
 */
const REASONS: Record<MessageReason, string> = {
  page: '',
  again: 'Nobody has answered yet.',
  worse: 'It has become worse.',
  cleared: 'It has cleared. It is still yours until it is closed.',
  taken: 'Somebody else has taken it. You need not do anything.',
  'asked-next-step': 'You accepted this, and nothing has followed. Say on the page what you do.',
  'asked-alone': 'You have been on site for two hours. Say on the page that you are all right.',
  exhausted: 'Everybody was asked, and nobody has answered.',
  'alone-on-site': 'The person on site has not answered. Try to reach them.',
  test: 'This is a test. Nothing has happened.',
};

const ENDS: ReadonlySet<MessageReason> = new Set(['cleared', 'taken']);

export function spokenNotice(facts: NoticeFacts, reason: MessageReason): string {
  const { event, zone, site, device } = facts;
  const where = device === null ? site.name : `${site.name}, ${device.name}`;
  const { title } = eventSentence(event, (instant) => clockText(instant, zone));
  const about = `${where}: ${title}.`;
  const isOver = ENDS.has(reason);
  return aloud(
    [
      'Holdoff calls.',
      REASONS[reason],
      about,
      `Since ${clockText(event.start.latest, zone)}.`,
      isOver ? '' : urgencyOf(facts),
      isOver || facts.others.length === 0 ? '' : `Still cooling: ${facts.others.slice(0, 3).join(' and ')}.`,
      isOver ? '' : 'To accept, open the page or the link in your message.',
      `Once more. ${about}`,
    ].filter((sentence) => sentence !== ''),
  );
}

/** Whether to go, without the reckoning behind it. */
function urgencyOf({ urgency }: NoticeFacts): string {
  if (urgency.answer !== 'can-wait') return urgency.says;
  return `${/^Can wait until \d\d:\d\d/.exec(urgency.says)?.[0] ?? 'It can wait'}.`;
}

/** One text, as a machine should say it. */
export function aloud(sentences: readonly string[]): string {
  return sentences
    .join(' ')
    .replace(/https?:\S+/g, '')
    .replace(/\b([01]?\d|2[0-4]):([0-5]\d)\b/g, (_, hour: string, minute: string) =>
      spokenTime(Number(hour), Number(minute)),
    )
    .replace(
      /(-?)(\d+(?:\.\d+)?) ?°C/g,
      (_, minus: string, value: string) => `${minus === '' ? '' : 'minus '}${value} degrees Celsius`,
    )
    .replace(/(\d+) ?min\b/g, '$1 minutes')
    .replace(/(\d+) ?h\b/g, '$1 hours')
    .replace(/\b(\d+)\.(\d+)\b/g, (_, whole: string, rest: string) => `${whole} point ${[...rest].join(' ')}`)
    .replace(/(\p{L})(\d)/gu, '$1 $2')
    .replace(/(\d)(\p{L})/gu, '$1 $2')
    .replace(/\bcan’t\b/gi, 'cannot')
    .replace(/[^\p{L}\p{N}.,:’ -]+/gu, ' ')
    .replace(/\s+/g, ' ')
    .trim();
}

const SMALL =
  'zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen'.split(
    ' ',
  );
const TENS = ['', '', 'twenty', 'thirty', 'forty', 'fifty'];

const inWords = (number: number): string =>
  number < 20
    ? SMALL[number]!
    : `${TENS[Math.floor(number / 10)]}${number % 10 === 0 ? '' : `-${SMALL[number % 10]}`}`;

/** `two thirty-eight in the morning`, `noon`, `five past midnight` */
export function spokenTime(hour: number, minute: number): string {
  const at = hour % 24;
  if (at === 0) return minute === 0 ? 'midnight' : `${inWords(minute)} past midnight`;
  if (at === 12 && minute === 0) return 'noon';
  const clock = inWords(at % 12 === 0 ? 12 : at % 12);
  const rest = minute === 0 ? ' o’clock' : ` ${minute < 10 ? 'oh ' : ''}${inWords(minute)}`;
  const part = at < 12 ? 'in the morning' : at < 18 ? 'in the afternoon' : 'in the evening';
  return `${clock}${rest} ${part}`;
}
