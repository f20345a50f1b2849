import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import type { TrueEvent } from './true-event.ts';

/** One true event and the published one that tells of it, if any. */
export interface Pair {
  readonly truth: TrueEvent;
  readonly told: EventDraft | null;
}

export interface Matched {
  readonly pairs: readonly Pair[];
  /** published, and nothing of the kind happened then */
  readonly invented: readonly EventDraft[];
}

/**
 * One-to-one: same kind, discriminator and subject, the true start inside the published interval ± resolution; the
 * surest and narrowest first.
 */
export function matchEvents(
  truths: readonly TrueEvent[],
  told: readonly EventDraft[],
  resolution: number,
): Matched {
  const slack = seconds(resolution);
  const free = new Set(told);
  const ranked = [...told].sort((a, b) => rank(a) - rank(b) || width(a) - width(b));
  const partner = new Map<TrueEvent, EventDraft>();
  for (const one of ranked) {
    const found = truths
      .filter(
        (truth) =>
          !partner.has(truth) &&
          isSame(truth, one) &&
          [truth.start, ...truth.orFrom].some((at) => lies(at, one, slack)),
      )
      .sort((a, b) => +b.needed - +a.needed || distance(a, one) - distance(b, one))[0];
    if (!found) continue;
    partner.set(found, one);
    free.delete(one);
  }
  return { pairs: truths.map((truth) => ({ truth, told: partner.get(truth) ?? null })), invented: [...free] };
}

const RANK = { certain: 0, probable: 1, possible: 2 } as const;
const rank = (one: EventDraft): number => RANK[one.certainty];
const width = ({ start }: EventDraft): number => start.latest - start.earliest;
const isSame = (truth: TrueEvent, one: EventDraft): boolean =>
  truth.kind === one.kind &&
  (truth.discriminator === one.discriminator || one.kind !== 'setting-mismatch') &&
  (one.kind !== 'short-cycle' || truth.cause === one.cause);
const lies = (at: Instant, { start }: EventDraft, slack: number): boolean =>
  at >= start.earliest - slack && at <= start.latest + slack;
const distance = (truth: TrueEvent, { start }: EventDraft): number =>
  Math.abs(truth.start - (start.earliest + start.latest) / 2);

/** How far the published start lies from the true one: seconds from the middle of the interval. */
export const timingError = (truth: TrueEvent, one: EventDraft): number => distance(truth, one) / SECOND;
