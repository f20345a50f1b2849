import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { EventKind } from '../../../shared/inference/event.ts';
import { EVENT_WORDS } from '../../../shared/wire/event-sentences.ts';
import type { EventView } from '../view/site-view.ts';

/** What happened since the reader last looked, in a sentence: counts by kind, the gravest first, and what isn't over. */
const GRAVEST: readonly EventKind[] = [
  'hard-lockout',
  'loss-of-cooling',
  'high-temperature',
  'stuck-contactor',
  'failed-start',
  'power-loss',
];
const UNTOLD: ReadonlySet<EventKind> = new Set(['compressor-run', 'lockout-reset', 'restart-sequence']);
export const TOLD: readonly EventKind[] = [
  ...GRAVEST,
  ...(Object.keys(EVENT_WORDS) as EventKind[]).filter((kind) => !UNTOLD.has(kind) && !GRAVEST.includes(kind)),
];

/** A look counts as a new one after this long away. */
export const AWAY = 5 * 60 * SECOND;

export function sinceText(events: readonly EventView[], bounded: boolean): string {
  if (events.length === 0) return 'nothing out of the ordinary';
  const byKind = new Map<EventKind, EventView[]>();
  for (const event of events) byKind.set(event.kind, [...(byKind.get(event.kind) ?? []), event]);
  const said = TOLD.flatMap((kind) => {
    const some = byKind.get(kind);
    return some ? [kindText(kind, some)] : [];
  });
  return `${bounded ? 'at least ' : ''}${listed(said)}`;
}

function kindText(kind: EventKind, events: readonly EventView[]): string {
  const term = EVENT_WORDS[kind].term.toLowerCase().replace(/:.*$/, '');
  const open = events.filter((event) => event.end === null).length;
  const rest = open === 0 ? '' : open === events.length ? ', not over yet' : `, ${open} not over yet`;
  return `${events.length === 1 ? `one ${term}` : `${events.length} ${plural(term)}`}${rest}`;
}

/** `soft lockouts`, `power losses`, `losses of cooling`, `setting mismatches` */
function plural(term: string): string {
  const [head, ...of] = term.split(/ (?=of |with )/);
  const ending = /(s|sh|ch)$/.test(head!) ? 'es' : 's';
  return [`${head}${ending}`, ...of].join(' ');
}

const listed = (parts: readonly string[]): string =>
  parts.length < 2 ? parts.join('') : `${parts.slice(0, -1).join('; ')}; and ${parts.at(-1)}`;

/** The instant of the last look, kept on this device; null on a first visit. */
export const readLook = (kept: string | null, now: Instant): Instant | null => {
  const at = Number(kept);
  return kept !== null && Number.isSafeInteger(at) && at > 0 && at < now ? at : null;
};
