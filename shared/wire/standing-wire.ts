import { formatInstant, parseInstant, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import type { LastSeen, UnitStanding } from '../inference/standing.ts';
import type { EventAnswer } from './event-answer.ts';
import type { WireUnitStanding } from './status.ts';

/** Between what a fold says, in instants, and what crosses the wire, in ISO 8601: the one place that converts. */
type WireSpan = { earliest: string; latest: string };

export const wireInstant = (instant: Instant | null): string | null =>
  instant === null || !Number.isFinite(instant) ? null : formatInstant(instant);
export const wireSpan = (span: Span | null): WireSpan | null =>
  span && { earliest: formatInstant(span.earliest), latest: formatInstant(span.latest) };
export const wireSeen = (seen: LastSeen | null): { t: string; value: number | null } | null =>
  seen && { t: formatInstant(seen.t), value: seen.value };

/** For texts that this side wrote itself; anything else is a defect and throws. */
export function readInstant(text: string): Instant {
  const instant = parseInstant(text);
  if (instant === null) throw new RangeError(`not an instant: ${text}`);
  return instant;
}
export const readSpan = (span: WireSpan | null): Span | null =>
  span && { earliest: readInstant(span.earliest), latest: readInstant(span.latest) };

export function wireUnitStanding(standing: UnitStanding): WireUnitStanding {
  const lastSeen = Object.entries(standing.lastSeen).map(
    ([signal, seen]) => [signal, wireSeen(seen)] as const,
  );
  return {
    ...standing,
    since: wireSpan(standing.since),
    until: wireSpan(standing.until),
    pending: [...standing.pending],
    lastSeen: Object.fromEntries(lastSeen) as WireUnitStanding['lastSeen'],
    settingsSeen: [...(standing.settingsSeen ?? [])],
  };
}

/** Back again, for the sentences and the countdowns of the page. */
export function readUnitStanding(standing: WireUnitStanding): UnitStanding {
  const lastSeen = Object.entries(standing.lastSeen).map(
    ([signal, { t, value }]) => [signal, { t: readInstant(t), value }] as const,
  );
  return {
    ...standing,
    since: readSpan(standing.since),
    until: readSpan(standing.until),
    lastSeen: Object.fromEntries(lastSeen) as UnitStanding['lastSeen'],
  };
}

/** What the store knows about an event beside what the fold decided. */
export interface Kept {
  readonly replaces: readonly string[];
  readonly revision: number;
  readonly inferredAt: Instant;
  readonly withdrawnAt?: Instant | null;
}

export function wireEvent(event: EventDraft, kept: Kept): EventAnswer {
  return {
    ...event,
    start: wireSpan(event.start)!,
    end: wireSpan(event.end),
    pending: [...event.pending],
    candidates: [...event.candidates],
    evidence: event.evidence.map((evidence) => ({ ...evidence, t: formatInstant(evidence.t) })),
    members: [...event.members],
    replaces: [...kept.replaces],
    revision: kept.revision,
    inferredAt: formatInstant(kept.inferredAt),
    ...(kept.withdrawnAt ? { withdrawnAt: formatInstant(kept.withdrawnAt) } : {}),
  };
}
