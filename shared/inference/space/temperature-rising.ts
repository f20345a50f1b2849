import { inSeconds, seconds, type Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { Unit } from '../../telemetry/site.ts';
import type { EventDraft } from '../event.ts';
import { draftAbout } from '../subject-draft.ts';
import type { SpaceMoment } from './state.ts';
import { callMeansCooling } from './waits.ts';

/**
 * Weak cooling where no air temperatures are wired (handbook 4 rule 12, from memory): the space is warmer by 1 K or more in
 * a run of 30 min or more. Possible, no more: a hot day, an open door, more heat inside do the same. The site's other spaces
 * in the same hour tell them apart (cooling/compare-spaces.ts).
 */
export interface Rising {
  /** the run: since, and how warm the space was at its first sample */
  readonly run: Span;
  readonly from: number;
  /** the most that it rose by, K */
  most: number;
  /** the instant at which it was seen to be one; null: it isn't yet */
  told: Instant | null;
}

const LEAST_RUN = seconds(1800);
const LEAST_RISE = 1;

/** After each instant: runs that begin, go on, end. */
export function followRising(moment: SpaceMoment): void {
  const { state, place, t } = moment;
  const { rising, inside } = state.warmth;
  for (const unit of place.units) {
    const run = state.units[unit.id]?.run;
    const open = rising[unit.id];
    if (open && (!run?.on || run.since?.latest !== open.run.latest)) end(moment, unit, open);
    if (!run?.on || !run.since || !isJudged(unit) || inside?.t !== t || inside.value === null) continue;
    const now = state.warmth.rising[unit.id];
    if (!now) {
      if (t >= run.since.latest)
        rising[unit.id] = { run: run.since, from: inside.value, most: 0, told: null };
      continue;
    }
    now.most = Math.max(now.most, inside.value - now.from);
    if (t - run.since.latest >= LEAST_RUN && inside.value - now.from >= LEAST_RISE) now.told ??= t;
  }
}

/** Air temperatures tell more, where both are wired; a unit that may heat or dry tells nothing here. */
const isJudged = (unit: Unit): boolean =>
  callMeansCooling(unit) &&
  !['supply-air-temperature', 'return-air-temperature'].every((signal) =>
    unit.points.some((point) => point.signal === signal),
  );

function end(moment: SpaceMoment, unit: Unit, open: Rising): void {
  const { state, t } = moment;
  const run = state.units[unit.id]?.run;
  const stop =
    run?.on === false && run.since ? run.since : { earliest: run?.unknown.at(-1)?.from ?? t, latest: t };
  if (open.told !== null) moment.out.event(risingEvent(moment, unit, open, { ...stop }));
  state.warmth.rising = Object.fromEntries(
    Object.entries(state.warmth.rising).filter(([id]) => id !== unit.id),
  );
}

export function showRising(moment: SpaceMoment): void {
  for (const unit of moment.place.units) {
    const open = moment.state.warmth.rising[unit.id];
    if (open && open.told !== null) moment.out.event(risingEvent(moment, unit, open, null));
  }
}

function risingEvent(
  { context, state }: SpaceMoment,
  unit: Unit,
  open: Rising,
  stop: Span | null,
): EventDraft {
  const event = draftAbout(context.subject, {
    kind: 'weak-cooling',
    cause: 'temperature-rising',
    discriminator: unit.id,
    start: open.run,
    end: stop,
    certainty: 'possible',
    pending: stop ? [] : ['end'],
    measures: {
      riseKelvin: Math.round(open.most * 100) / 100,
      afterSeconds: inSeconds(open.told! - open.run.latest),
    },
    evidence: [
      {
        signal: 'space-temperature',
        device: state.warmth.inside?.key.split('/')[0] ?? context.subject.device,
        t: open.told!,
        value: null,
        says: `warmer by 1 K or more in a run of 30 min or more`,
      },
    ],
  });
  return { ...event, unit: unit.id };
}
