import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import type { Certainty, EventKind } from '../inference/event.ts';
import type { UnitPhase } from '../inference/standing.ts';
import { wireInstant } from './standing-wire.ts';
import type { Strip } from './status.ts';

/**
 * A unit's last hours as phases on a scale, from its events: what was seen (runs, lockouts, holds, losses, silence), and the
 * delays that the recorded or assumed settings put after a stop and after a power return. What nothing covers is `ready`.
 */
export interface StripEvent {
  readonly id: string;
  readonly kind: EventKind;
  readonly certainty: Certainty;
  readonly start: Instant;
  /** null: it lasts */
  readonly end: Instant | null;
}

export interface StripDelays {
  readonly offDelaySeconds: number;
  readonly powerUpDelaySeconds: number;
}

interface Piece {
  readonly phase: UnitPhase;
  readonly from: Instant;
  readonly to: Instant;
  readonly certainty: Certainty;
  readonly event: string | null;
}

/** Kinds that cover a strip, the strongest last: where two overlap, the later in this list is drawn. */
const COVERS = {
  'compressor-run': 'running',
  'failed-start': 'failed-start',
  'undervoltage-hold': 'undervoltage-hold',
  'soft-lockout': 'soft-lockout',
  'hard-lockout': 'hard-lockout',
  'power-loss': 'no-power',
  'telemetry-gap': 'not-known',
} as const satisfies Partial<Record<EventKind, UnitPhase>>;

export const STRIP_KINDS = Object.keys(COVERS) as (keyof typeof COVERS)[];

export function stripOf(
  events: readonly StripEvent[],
  delays: StripDelays,
  window: { readonly from: Instant; readonly to: Instant },
): Strip {
  const covering = events.filter((event) => event.kind in COVERS);
  const layers = [
    ...delaysAfter(covering, delays),
    ...inStrength(covering).map((event) => pieceOf(event, window.to)),
  ];
  const pieces = layers.reduce<Piece[]>((under, piece) => laidOver(under, piece), []);
  return {
    from: wireInstant(window.from)!,
    to: wireInstant(window.to)!,
    phases: pieces.flatMap((piece) => within(piece, window)),
  };
}

const strength = (event: StripEvent): number => STRIP_KINDS.indexOf(event.kind as keyof typeof COVERS);
const inStrength = (events: readonly StripEvent[]): StripEvent[] =>
  [...events].sort((a, b) => strength(a) - strength(b) || a.start - b.start);

const pieceOf = (event: StripEvent, now: Instant): Piece => ({
  phase: COVERS[event.kind as keyof typeof COVERS],
  from: event.start,
  to: event.end ?? now,
  certainty: event.certainty,
  event: event.id,
});

/** The waits that settings put after a run and after a power loss, ended early by the next run. */
function delaysAfter(events: readonly StripEvent[], delays: StripDelays): Piece[] {
  const starts = events.filter(({ kind }) => kind === 'compressor-run').map(({ start }) => start);
  const wait = (phase: UnitPhase, event: StripEvent, length: number): Piece => {
    const from = event.end!;
    const planned = from + seconds(length);
    const next = starts.find((start) => start >= from) ?? planned;
    return { phase, from, to: Math.min(planned, next), certainty: event.certainty, event: null };
  };
  const ended = (kind: EventKind) => events.filter((event) => event.kind === kind && event.end !== null);
  return [
    ...ended('compressor-run').map((run) => wait('off-delay', run, delays.offDelaySeconds)),
    ...ended('power-loss').map((loss) => wait('power-up-delay', loss, delays.powerUpDelaySeconds)),
  ];
}

/** Pieces in time order without overlap, the new one on top. */
function laidOver(under: readonly Piece[], top: Piece): Piece[] {
  if (top.to <= top.from) return [...under];
  const cut = under.flatMap((piece) => [
    ...(piece.from < top.from ? [{ ...piece, to: Math.min(piece.to, top.from) }] : []),
    ...(piece.to > top.to ? [{ ...piece, from: Math.max(piece.from, top.to) }] : []),
  ]);
  return [...cut, top].sort((a, b) => a.from - b.from);
}

function within(
  piece: Piece,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): Strip['phases'] {
  const [start, end] = [Math.max(piece.from, from), Math.min(piece.to, to)];
  if (end <= start) return [];
  const { phase, certainty, event } = piece;
  const relative = (instant: Instant) => Math.round(inSeconds(instant - from) * 10) / 10;
  return [{ phase, start: relative(start), end: relative(end), certainty, event }];
}
