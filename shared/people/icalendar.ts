import { digest } from '../base/digest.ts';
import { formatInstant, type Instant } from '../base/instant.ts';
import type { Turn } from './roster.ts';
import { dateOfNumber, dayNumber, parseDate, type WallDate } from './wall-time.ts';

/**
 * Rosters as iCalendar (RFC 5545) and holidays out of it. Turns leave in UTC, so no calendar has to know a zone's rules
 * as we do. Lines end in CRLF and are folded at 75 octets (section 3.1).
 */
export interface FeedNames {
  readonly roster: string;
  /** by person id; null: nobody is on */
  readonly person: (id: string | null) => string;
  readonly madeAt: Instant;
}

/** Gaps are entries too: who subscribes should see them. */
export function calendarOf(turns: readonly Turn[], names: FeedNames): string {
  const lines = [
    'BEGIN:VCALENDAR',
    'VERSION:2.0',
    'PRODID:-//Holdoff//On call//EN',
    `X-WR-CALNAME:${escaped(names.roster)}`,
    ...turns.flatMap((turn) => eventLines(turn, names)),
    'END:VCALENDAR',
  ];
  return lines.map((line) => `${folded(line)}\r\n`).join('');
}

function eventLines(turn: Turn, names: FeedNames): string[] {
  const who = names.person(turn.person);
  return [
    'BEGIN:VEVENT',
    `UID:${digest('turn', names.roster, formatInstant(turn.from), turn.person ?? '')}@holdoff`,
    `DTSTAMP:${utc(names.madeAt)}`,
    `DTSTART:${utc(turn.from)}`,
    `DTEND:${utc(turn.to)}`,
    `SUMMARY:${escaped(`${who} – ${names.roster}`)}`,
    'TRANSP:TRANSPARENT',
    'END:VEVENT',
  ];
}

const utc = (instant: Instant): string =>
  `${formatInstant(Math.floor(instant / 1e6) * 1e6)
    .replace(/[-:]/g, '')
    .slice(0, 15)}Z`;

/** TEXT (section 3.3.11); other control characters have no place in it. */
const escaped = (text: string): string =>
  text
    .replace(/[\\;,]/g, (mark) => `\\${mark}`)
    .replace(/\r?\n|\r/g, '\\n')
    // eslint-disable-next-line no-control-regex
    .replace(/[\u0000-\u001f\u007f]/g, '');

const LINE_OCTETS = 75;

/** Never inside a letter: octets are those of UTF-8. */
function folded(line: string): string {
  const lines: string[] = [];
  let current = '';
  let octets = 0;
  for (const letter of line) {
    const size = octetsOf(letter);
    if (octets + size > LINE_OCTETS) {
      lines.push(current);
      [current, octets] = [' ', 1];
    }
    current += letter;
    octets += size;
  }
  return [...lines, current].join('\r\n');
}

function octetsOf(letter: string): number {
  const code = letter.codePointAt(0)!;
  if (code < 0x80) return 1;
  if (code < 0x800) return 2;
  return code < 0x10000 ? 3 : 4;
}

export type Holidays =
  { readonly ok: true; readonly days: readonly WallDate[] } | { readonly ok: false; readonly says: string };

const MOST_DAYS = 2000;

/**
 * The days of a calendar's all-day entries. One that repeats by a rule is refused, not guessed at: publishers of holidays
 * write each day out.
 */
export function parseHolidays(text: string): Holidays {
  const lines = text.replace(/\r?\n[ \t]/g, '').split(/\r?\n/);
  if (!lines.some((line) => /^BEGIN:VCALENDAR\s*$/i.test(line)))
    return { ok: false, says: 'This is no iCalendar file: it doesn’t have BEGIN:VCALENDAR.' };
  const days = new Set<number>();
  for (const entry of entriesOf(lines)) {
    if (entry.has('RRULE'))
      return {
        ok: false,
        says: `“${entry.get('SUMMARY') ?? 'An entry'}” repeats by a rule. Give a file with each day written out.`,
      };
    for (const day of daysOf(entry)) days.add(day);
    if (days.size > MOST_DAYS) return { ok: false, says: `More than ${MOST_DAYS} days: give fewer years.` };
  }
  return { ok: true, days: [...days].sort((a, b) => a - b).map(dateOfNumber) };
}

function* entriesOf(lines: readonly string[]): Iterable<Map<string, string>> {
  let entry: Map<string, string> | null = null;
  for (const line of lines) {
    const [, name, value] = /^([A-Z-]+)(?:;[^:]*)?:(.*)$/i.exec(line) ?? [];
    if (!name || value === undefined) continue;
    if (name === 'BEGIN' && value.trim() === 'VEVENT') entry = new Map();
    else if (name === 'END' && value.trim() === 'VEVENT' && entry) {
      yield entry;
      entry = null;
    } else entry?.set(name.toUpperCase(), value.trim());
  }
}

/** DTEND is the day after the last one (section 3.6.1); without it the entry is one day. Timed entries are none. */
function daysOf(entry: ReadonlyMap<string, string>): number[] {
  const start = dayOf(entry.get('DTSTART'));
  if (start === null) return [];
  const end = dayOf(entry.get('DTEND')) ?? start + 1;
  return Array.from({ length: Math.min(Math.max(1, end - start), MOST_DAYS + 1) }, (_, n) => start + n);
}

function dayOf(value: string | undefined): number | null {
  const parts = /^(\d{4})(\d{2})(\d{2})$/.exec(value ?? '');
  const date = parts ? parseDate(`${parts[1]}-${parts[2]}-${parts[3]}`) : null;
  return date === null ? null : dayNumber(date);
}
