import { FOLDS } from '../../shared/inference/folds.ts';
import type { Logger } from 'pino';
import { failureOf } from '../observe.ts';
import { startRollingUp } from '../series/roll-up.ts';
import { startKeepingRecord, type KeepOptions } from './keep-record.ts';
import { KEEP_ALL, type RecordSettings } from './settings.ts';

export interface KeepersOptions extends Pick<KeepOptions, 'database' | 'setups' | 'now'> {
  /** left out: all of the record is kept, in rows */
  readonly record?: RecordSettings;
  readonly logger: Logger;
}

/** What looks after the record in a server's process: added up by five minutes; kept for as long as is set. */
export function startKeepers(options: KeepersOptions): { stop(): Promise<void> }[] {
  const { logger, record = KEEP_ALL } = options;
  return [
    startRollingUp({
      ...options,
      failed: failureOf(logger, 'series', 'rolling samples up failed; it is tried again'),
    }),
    startKeepingRecord({
      ...options,
      folds: FOLDS,
      settings: record,
      failed: failureOf(logger, 'series', 'looking after the record failed; it is tried again'),
    }),
  ];
}
