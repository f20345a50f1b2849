import type { LatenessRow, OpenGap } from '../../db/read-telemetry.ts';
import { formatInstant, inSeconds, type Instant } from '../../shared/base/instant.ts';
import { clockShifts, correctionAt } from '../../shared/telemetry/clock-shifts.ts';
import type { GatewayTelemetry } from '../../shared/wire/telemetry.ts';
import type { Setup } from '../follow/setup.ts';

interface Seen {
  readonly gap: OpenGap | undefined;
  readonly late: LatenessRow | undefined;
  readonly life: { readonly t: Instant } | undefined;
  readonly now: Instant;
}

/** Messages that come so much later than they say are behind. Less is the way that they come. */
const BEHIND_SECONDS = 60;
const RECENT_MINUTES = 10;
const DAY_MINUTES = 1_440;

/** A gateway: when it was last heard, how many messages come from it and how late, its clock's offset taken off. */
export function gatewayTelemetry(setup: Setup, id: string, { gap, late, life, now }: Seen): GatewayTelemetry {
  const shift = inSeconds(correctionAt(clockShifts(setup.history, `${id}/life`), now));
  const lateness = (count: number, minutes: number, medianMs: number | null, leastMs: number | null) =>
    medianMs === null || leastMs === null || count === 0
      ? null
      : {
          perMinute: count / minutes,
          medianSeconds: medianMs / 1_000 - shift,
          leastSeconds: leastMs / 1_000 - shift,
        };
  const recent = late ? lateness(late.recent, RECENT_MINUTES, late.recentMedianMs, late.recentLeastMs) : null;
  const newest = late?.newestMedianMs ?? late?.recentMedianMs ?? null;
  const lag = newest === null ? null : newest / 1_000 - shift;
  const hasCome = life !== undefined && inSeconds(now - life.t) < BEHIND_SECONDS;
  const isLate = lag !== null && lag >= BEHIND_SECONDS;
  const isCatchingUp = isLate && recent !== null && catchesUp(recent, lag);
  const behind = isLate && !(isCatchingUp && hasCome) ? lag : null;
  return {
    site: setup.id,
    id,
    lastLife: life ? formatInstant(life.t) : null,
    silentSince: gap ? formatInstant(gap.since) : null,
    now: recent,
    day: late ? lateness(late.day, DAY_MINUTES, late.dayMedianMs, late.dayLeastMs) : null,
    behindSeconds: behind,
    isCatchingUp: behind !== null && isCatchingUp,
  };
}

/**
 * What waits on its way comes evenly late. What is delivered after a while carries times that go faster than the clock, so
 * the least late of the last minutes and the middle one lie far apart, and the newest are no later than the others.
 */
const catchesUp = (
  { medianSeconds, leastSeconds }: { readonly medianSeconds: number; readonly leastSeconds: number },
  lag: number,
): boolean => medianSeconds - leastSeconds >= BEHIND_SECONDS && lag <= medianSeconds;
