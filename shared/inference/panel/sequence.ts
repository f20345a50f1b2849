import type { Span } from '../../base/span.ts';
import type { Loss, Restart, Sequence } from './state.ts';

/** What can be said of a restart sequence from its members alone. */

/** The return of power: the first of those seen. Null while none is. */
export function returnOf(sequence: Sequence): Span | null {
  const seen = returnsIn(sequence);
  if (seen.length === 0) return null;
  return {
    earliest: Math.min(...seen.map(({ earliest }) => earliest)),
    latest: Math.min(...seen.map(({ latest }) => latest)),
  };
}

export const lastReturn = (sequence: Sequence): number =>
  Math.max(-Infinity, ...returnsIn(sequence).map(({ latest }) => latest));

const returnsIn = ({ members, supply }: Sequence): Span[] => [
  ...Object.values(members).flatMap(({ back }) => (back ? [back] : [])),
  ...(supply ? [supply.back] : []),
];

/** When power came back to one member: its own return, or the panel's where its power isn't wired. */
export const backOf = (sequence: Sequence, restart: Restart): Span | null =>
  restart.back ?? (restart.loss ? null : returnOf(sequence));

export const anyStarted = ({ members }: Sequence): boolean =>
  Object.values(members).some(({ outcome }) => outcome === 'started');

export const anyAwaited = ({ members }: Sequence): boolean =>
  Object.values(members).some(({ outcome }) => outcome === 'waiting');

export function resolve(restart: Restart, outcome: Restart['outcome'], at: Span | null): void {
  restart.outcome = outcome;
  restart.at = at;
}

/** Nothing more is awaited in it: another outage came first. */
export function giveUp({ members }: Sequence): void {
  for (const restart of Object.values(members))
    if (restart.outcome === 'waiting') resolve(restart, 'lost-again', null);
}

export const awaiting = (loss: Loss | null, back: Span | null, certain: boolean): Restart => ({
  loss,
  back,
  certain: certain && (loss?.certain ?? true),
  outcome: 'waiting',
  at: null,
  planned: null,
  by: null,
});

/** Did the loss begin before the power came back in this sequence? */
export const isSameOutage = (sequence: Sequence, loss: Loss): boolean =>
  loss.away.earliest <= lastReturn(sequence);

/** Do [away, back] and the loss of some member overlap? */
export const touches = ({ members }: Sequence, away: Span, back: Span): boolean =>
  Object.values(members).some(
    (one) =>
      one.loss !== null &&
      one.loss.away.earliest <= back.latest &&
      (one.back?.latest ?? Infinity) >= away.earliest,
  );
