import type { Span } from '../../base/span.ts';
import type { Certainty } from '../event.ts';
import type { HardLockout } from './belief.ts';
import { instantly, least, type Moment } from './moment.ts';

/** What broke a hard lockout, and whether the same was reset within the hour already (handbook 4 rule 6). */
export function reset(
  moment: Moment,
  at: Span,
  cause: 'call-broken' | 'power-broken',
  causeCertainty: 'certain' | 'probable' | 'possible',
  hard: HardLockout,
): void {
  const { belief } = moment;
  const { certainty } = hard;
  moment.out.event(instantly(moment, 'lockout-reset', at, { cause, causeCertainty, certainty }));
  const hour = 3_600_000_000;
  belief.resets = belief.resets.filter(({ span }) => at.latest - span.latest <= hour);
  const same = belief.resets
    .filter((one) => one.cause === hard.reason.cause)
    // only surely within the hour where its earliest is
    .map((one) => (at.latest - one.span.earliest <= hour ? one.certainty : 'possible'));
  const sure = least(certainty, hard.reason.certainty);
  belief.resets.push({ span: at, cause: hard.reason.cause, certainty: sure });
  if (same.length > 0)
    moment.out.event(
      instantly(moment, 'repeated-reset', at, {
        certainty: least(sure, surest(same)),
        measures: { resetsInHour: belief.resets.length },
      }),
    );
}

const surest = (all: readonly Certainty[]): Certainty =>
  (['certain', 'probable', 'possible'] as const).find((one) => all.includes(one))!;
