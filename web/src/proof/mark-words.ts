import type { MarkKind } from '../../../shared/proof/session.ts';

/** What each press says was done. */
export const MARK_WORDS: Readonly<Record<MarkKind, string>> = {
  'call-on': 'cooling call given',
  'call-off': 'cooling call ended',
  'alarm-open': 'alarm wire opened',
  'alarm-closed': 'alarm wire put back',
  'power-off': 'disconnect opened',
  'power-back': 'disconnect closed',
  mended: 'mended',
  'left-out': 'left out',
};
