import { seconds, type Instant } from '../base/instant.ts';

/**
 * Is what is known of a subject still catching up? A gateway that was cut off delivers hours in minutes; what stands at some
 * point of them may be over by their end, and must page nobody (handbook 7, late facts). While a subject's known-through
 * gains on the time that passes, what stands there waits; so it does, for a while, where inference has yet to fold what has
 * come. Otherwise nothing more is coming: a clock that is slow, or a gateway that has fallen silent, and what stands is
 * raised.
 */
export interface Lag {
  /** known through, at the last look */
  readonly known: Instant;
  /** of the last look, and of the last that saw it gain: the server's clock */
  readonly at: Instant;
  readonly gainedAt: Instant;
}

export interface Known {
  /** null: unknown by silence, or the subject has none */
  readonly known: Instant | null;
  readonly through: Instant;
  readonly now: Instant;
  /** what has come is still to be folded */
  readonly pending: boolean;
}

/** All of them settings of ours [from memory]. */
const BEHIND = seconds(120);
const LOOK_AGAIN = seconds(60);
const PENDING_AT_MOST = seconds(15 * 60);
/** known time must pass at least so much faster than time itself */
const GAINING = 1.25;

/** `lag`: waits, and is looked at again at `wakeAt`; null: doesn't wait. */
export function lagOf(
  before: Lag | null,
  { known, through, now, pending }: Known,
): { readonly lag: Lag; readonly wakeAt: Instant } | null {
  if (known === null || through - known <= BEHIND) return null;
  const waits = (lag: Lag) => ({ lag, wakeAt: lag.at + LOOK_AGAIN });
  if (before === null) return waits({ known, at: now, gainedAt: now });
  if (now - before.at < LOOK_AGAIN) return waits(before);
  if (known - before.known >= GAINING * (now - before.at)) return waits({ known, at: now, gainedAt: now });
  const isPending = pending && now - before.gainedAt < PENDING_AT_MOST;
  return isPending ? waits({ known, at: now, gainedAt: before.gainedAt }) : null;
}
