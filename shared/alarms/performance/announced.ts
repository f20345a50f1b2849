import type { Instant } from '../../base/instant.ts';
import type { AlarmChange } from '../alarm.ts';
import type { Severity } from '../severity.ts';

/** A line of the journal with what its alarm is. Lines of one alarm come in the order in which they were written. */
export type JournalLine = Pick<AlarmChange, 'what' | 'at' | 'by' | 'why' | 'state' | 'severity'> & {
  readonly alarm: string;
  /** rule and subject: the source that speaks */
  readonly key: string;
};

/**
 * One time that an alarm asked for somebody: raised, or true again, in the open. What is explained by another, worked on,
 * shelved or out of service asks nobody and isn't one (handbook 7). Times are the server's: what a person saw.
 */
export interface Announced {
  readonly alarm: string;
  readonly key: string;
  readonly severity: Severity;
  readonly at: Instant;
  /** its condition went; null: it stands, or was hidden before */
  readonly goneAt: Instant | null;
  /** it left the list: at rest, or hidden; null: it is there */
  readonly leftAt: Instant | null;
  readonly acceptedAt: Instant | null;
  readonly acceptedBy: string | null;
}

const HIDDEN = new Set(['G', 'H', 'I']);
const GOES = new Set<JournalLine['what']>(['returned', 'withdrawn']);
const LEAVES = new Set<JournalLine['what']>(['cleared', 'shelved', 'suppressed', 'taken-out-of-service']);

/** Every announcement of the journal, in order of time. */
export function announcedIn(lines: readonly JournalLine[]): Announced[] {
  const done: Announced[] = [];
  const open = new Map<string, Announced>();
  const end = (alarm: string, at: Instant): void => {
    const one = open.get(alarm);
    if (one) done.push({ ...one, leftAt: one.leftAt ?? at });
    open.delete(alarm);
  };
  for (const line of lines) {
    const { alarm, what, at } = line;
    const before = open.get(alarm);
    if (isAnnouncement(line)) {
      end(alarm, at);
      open.set(alarm, begun(line));
    } else if (before && GOES.has(what)) open.set(alarm, { ...before, goneAt: before.goneAt ?? at });
    else if (before && what === 'acknowledged' && before.acceptedAt === null)
      open.set(alarm, { ...before, acceptedAt: at, acceptedBy: line.by });
    else if (LEAVES.has(what)) end(alarm, at);
  }
  return [...done, ...open.values()].toSorted(
    (a, b) => a.at - b.at || (a.alarm < b.alarm ? -1 : a.alarm > b.alarm ? 1 : 0),
  );
}

/** Was somebody asked by this line? */
const isAnnouncement = ({ what, state }: Pick<JournalLine, 'what' | 'state'>): boolean =>
  (what === 'raised' || what === 'raised-again') && state !== null && !HIDDEN.has(state);

const begun = ({ alarm, key, severity, at }: JournalLine): Announced => ({
  alarm,
  key,
  severity: severity ?? 'minor',
  at,
  goneAt: null,
  leftAt: null,
  acceptedAt: null,
  acceptedBy: null,
});
