import type { Severity } from '../alarms/severity.ts';
import type { Instant } from '../base/instant.ts';
import { clockText, dateText, wallOf } from '../people/wall-time.ts';
import { SEVERITY_SHAPES } from './alarm-sentences.ts';

/** The morning digest in words: what waited for the morning, what is still its reader's, what came and went. */
export interface DigestLine {
  readonly severity: Severity;
  readonly site: string;
  /** the unit, the room, …; and what is the matter */
  readonly says: string;
  readonly since: Instant;
  /** who has it; null: nobody */
  readonly owner: string | null;
  /** of the site */
  readonly zone: string;
}

export interface DigestFacts {
  readonly isWeekly: boolean;
  readonly now: Instant;
  readonly since: Instant;
  readonly zone: string;
  readonly sites: number;
  readonly tasks: number;
  /** not acknowledged: what the night held back, and what nobody took */
  readonly waiting: readonly DigestLine[];
  readonly yours: readonly DigestLine[];
  /** others have these */
  readonly others: readonly DigestLine[];
  readonly over: readonly DigestLine[];
  /** where alarms are read */
  readonly url: string;
}

export const isQuiet = ({ waiting, yours, over }: Pick<DigestFacts, 'waiting' | 'yours' | 'over'>): boolean =>
  waiting.length + yours.length + over.length === 0;

const LINES_SHOWN = 20;

export function digestText(facts: DigestFacts): { readonly subject: string; readonly text: string } {
  const { waiting, yours, others, over, isWeekly, sites, tasks, since, zone, url } = facts;
  const day = dateText(wallOf(facts.now, zone));
  if (isQuiet(facts) && others.length === 0)
    return {
      subject: `All quiet, ${day}`,
      text: `${quietLine(facts)}\n${isWeekly ? `${PROOF}\n` : ''}\n${url}\n`,
    };
  const counts = [
    ...(waiting.length > 0 ? [`${waiting.length} waiting`] : []),
    ...(yours.length > 0 ? [`${yours.length} yours`] : []),
    ...(over.length > 0 ? [`${over.length} over`] : []),
  ];
  const sections = [
    section('Nobody has taken these yet:', waiting),
    section('Still yours until you close them:', yours),
    section('Others have these:', others),
    section(`Came and went since ${dayAndClock(since, zone)}; nothing is to be done about them:`, over),
  ].filter((text) => text !== '');
  const tail = [
    ...(tasks > 0 ? [`${tasks} ${tasks === 1 ? 'task' : 'tasks'} for a working day.`] : []),
    `${sites} ${sites === 1 ? 'site' : 'sites'} in your scope.`,
    ...(isWeekly ? [PROOF] : []),
  ];
  return {
    subject: `${day}: ${counts.length > 0 ? counts.join(', ') : 'nothing of yours'}`,
    text: `${[...sections, tail.join('\n'), url].join('\n\n')}\n`,
  };
}

const PROOF = 'This comes every week, also when all is quiet: it shows that messages reach you.';

const quietLine = ({ sites, since, zone, tasks }: DigestFacts): string =>
  `No alarm at your ${sites} ${sites === 1 ? 'site' : 'sites'} since ${dayAndClock(since, zone)}${
    tasks > 0 ? `; ${tasks} ${tasks === 1 ? 'task' : 'tasks'} for a working day` : ''
  }.`;

function section(head: string, lines: readonly DigestLine[]): string {
  if (lines.length === 0) return '';
  const more = lines.length > LINES_SHOWN ? [`  and ${lines.length - LINES_SHOWN} more`] : [];
  return [head, ...lines.slice(0, LINES_SHOWN).map(lineText), ...more].join('\n');
}

/** `  ▲ Oak Street, Room 12: Hard lockout, high pressure (since 2026-03-02 02:38; ann has it)` */
const lineText = ({ severity, site, says, since, owner, zone }: DigestLine): string =>
  `  ${SEVERITY_SHAPES[severity]} ${site}, ${says} (since ${dayAndClock(since, zone)}${owner === null ? '' : `; ${owner} has it`})`;

const dayAndClock = (at: Instant, zone: string): string =>
  `${dateText(wallOf(at, zone))} ${clockText(at, zone)}`;
