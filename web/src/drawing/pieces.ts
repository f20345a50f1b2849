import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { Certainty } from '../../../shared/inference/event.ts';
import type { UnitPhase, UnitStanding } from '../../../shared/inference/standing.ts';
import { DRAWING_WORDS, PHASE_DRAWINGS, type Drawing } from '../../../shared/wire/drawings.ts';

export interface Piece {
  readonly phase: UnitPhase;
  readonly certainty: Certainty;
  readonly from: Instant;
  readonly to: Instant;
}

/** Pieces older than this are let go. */
const KEPT = 2.5 * 3600 * SECOND;

/** When the standing changes, what it was becomes one more piece of the past. */
export function continued(
  pieces: readonly Piece[],
  before: UnitStanding,
  after: UnitStanding,
): readonly Piece[] {
  const [from, to] = [before.since?.latest ?? null, after.since?.latest ?? null];
  if (before.phase === after.phase && from === to) return pieces;
  if (to === null || before.phase === 'ready') return pieces;
  const start = Math.max(from ?? -Infinity, pieces.at(-1)?.to ?? -Infinity);
  if (!(start < to) || !Number.isFinite(start)) return pieces;
  const piece = { phase: before.phase, certainty: before.certainty, from: start, to };
  return [...pieces.filter((old) => old.to > to - KEPT), piece];
}

/** Everything to draw up to now: the past, and the standing's own piece. What no piece covers is ready. */
export function upToNow(pieces: readonly Piece[], standing: UnitStanding, now: Instant): readonly Piece[] {
  const since = standing.since?.latest ?? null;
  const start = since ?? pieces.at(-1)?.to ?? now;
  const past = pieces.flatMap((piece) =>
    piece.from >= start ? [] : [{ ...piece, to: Math.min(piece.to, start) }],
  );
  return start < now
    ? [...past, { phase: standing.phase, certainty: standing.certainty, from: start, to: now }]
    : past;
}

/** `ran 5 times; stopped by itself once` – a strip in words. */
export function spokenPieces(pieces: readonly Piece[]): string {
  const count = new Map<Drawing, number>();
  for (const piece of pieces) {
    const drawing = PHASE_DRAWINGS[piece.phase];
    count.set(drawing, (count.get(drawing) ?? 0) + 1);
  }
  const times = (number: number) => (number === 1 ? 'once' : `${number} times`);
  const said = (['running', 'stopped-itself', 'latched', 'no-power', 'not-known'] as const).flatMap(
    (drawing) => {
      const number = count.get(drawing) ?? 0;
      return number === 0
        ? []
        : [`${drawing === 'running' ? 'ran' : DRAWING_WORDS[drawing]} ${times(number)}`];
    },
  );
  return said.length === 0 ? 'ready throughout' : said.join(', ');
}
