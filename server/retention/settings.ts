/** How long the record is kept, and how; from the environment. */
export interface RecordSettings {
  /** samples of so many days stay at least; null: all of them stay */
  readonly retentionDays: number | null;
  /** with TimescaleDB: samples older than this lie in columns; null: none do */
  readonly compressAfterDays: number | null;
}

export const KEEP_ALL: RecordSettings = { retentionDays: null, compressAfterDays: null };

export const readRecordSettings = (
  environment: Readonly<Record<string, string | undefined>>,
  faults: string[],
): RecordSettings => ({
  retentionDays: daysOf(environment, 'RETENTION_DAYS', 7, faults),
  compressAfterDays: daysOf(environment, 'COMPRESS_AFTER_DAYS', 1, faults),
});

const MOST_DAYS = 36_500;

function daysOf(
  environment: Readonly<Record<string, string | undefined>>,
  name: string,
  least: number,
  faults: string[],
): number | null {
  const text = environment[name]?.trim();
  if (!text) return null;
  const days = Number(text);
  if (Number.isInteger(days) && days >= least && days <= MOST_DAYS) return days;
  faults.push(`${name}=${text}: give whole days from ${least} to ${MOST_DAYS}, or leave it out.`);
  return null;
}
