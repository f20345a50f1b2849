import { OFF_DELAY_RANGE } from '../members/wired.ts';
import { seconds } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import { dueAfter, offDelayOf, type Moment } from './moment.ts';

/**
 * When the retry after `stop` is due: by the recorded delay, by the one seen where that isn't as recorded, and where
 * neither is known at the end of what can be set.
 */
export function retryDue(moment: Moment, stop: Span): Span {
  const { tolerance, offDelay } = moment.wiring.protection;
  const planned = dueAfter(stop, offDelayOf(moment.wiring), tolerance);
  const seen = moment.belief.brackets.offDelay;
  const most = seen?.seconds[1] ?? 0;
  const longest = offDelay.known === 'assumed' ? Math.max(most, OFF_DELAY_RANGE[1]) : most;
  return {
    // a delay that nothing has shown yet may have been shorter than written
    earliest: seen
      ? Math.min(planned.earliest, dueAfter(stop, seconds(seen.seconds[0]), tolerance).earliest)
      : stop.latest,
    latest: Math.max(planned.latest, stop.latest + seconds(longest)),
  };
}
