import { SECOND } from '../../shared/base/instant.ts';

/**
 * When a message is tried again, by how often it has been tried: dense at first, for somebody waits for it, and given up
 * after half a day, when everybody knows anyway. Up to a quarter is added by chance, so that those who failed together
 * don't come back together.
 */
const WAITS_SECONDS = [5, 15, 60, 5 * 60, 15 * 60, 3600, 3 * 3600, 8 * 3600];

/** µs until the next attempt after so many; null: no more. `dice` is in [0, 1). */
export function retryWait(attempts: number, dice: number): number | null {
  const wait = WAITS_SECONDS[attempts - 1];
  return wait === undefined ? null : Math.round(wait * (1 + dice / 4) * SECOND);
}

/** So many messages in a row given up, and the channel is disabled until somebody says that it works. */
export const GIVEN_UP_BOUND = 5;
