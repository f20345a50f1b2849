import { instantFromMilliseconds, type Instant } from '../shared/base/instant.ts';

/** This machine's time. */
export const now = (): Instant => instantFromMilliseconds(Date.now());
