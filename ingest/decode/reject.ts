import { REJECT_REASONS, type RejectReason } from '../../shared/telemetry/reject-reasons.ts';

export type { RejectReason };

/** In words, what is wrong. */
export const saysOf = (reason: RejectReason): string => REJECT_REASONS[reason].says;

/** Those that a change of configuration or of a clock may mend keep their whole payload, to be taken in later. */
export const keepsWhole = (reason: RejectReason): boolean =>
  reason === 'point-not-known' || reason === 'time-in-future';

/** Bytes kept of the others. */
export const KEPT_BYTES = 1_024;
