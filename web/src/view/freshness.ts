import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { Reader } from '../../../shared/wire/sentences.ts';
import type { Zone } from '../page/zone.ts';

/** Data older than this look old: countdowns stand still (architecture 2.7). */
const FROZEN_AFTER_SECONDS = 15;

export interface Age {
  /** null: nothing was ever heard */
  readonly seconds: number | null;
  readonly frozen: boolean;
}

export function ageOf(dataAt: Instant | null, now: Instant): Age {
  if (dataAt === null) return { seconds: null, frozen: true };
  const seconds = Math.max(0, Math.floor((now - dataAt) / SECOND));
  return { seconds, frozen: seconds > FROZEN_AFTER_SECONDS };
}

/** The reader of a site's sentences: time stands still where its data stopped. */
export function readerOf(dataAt: Instant | null, now: Instant, zone: Zone): Reader {
  const { frozen } = ageOf(dataAt, now);
  return { now: frozen && dataAt !== null ? dataAt : now, frozen, clock: zone.clock };
}
