import { readStoredIntervals } from '../../db/intervals.ts';
import type { Queries } from '../../db/pool.ts';
import { readWaveforms, type WaveformRow } from '../../db/waveforms.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { Interval } from '../../shared/telemetry/interval.ts';
import { LONGEST_WAVEFORM_SECONDS } from '../../shared/telemetry/waveform.ts';
import type { ExportedInterval } from '../../shared/wire/interval-rows.ts';
import type { ExportedWaveform } from '../../shared/wire/waveform-rows.ts';
import type { ExportedPoint } from './samples-in-order.ts';

/** What is less in number than samples goes out point by point, each in order of time, by pages of its key. */
interface Range {
  readonly from: Instant;
  readonly to: Instant;
}

const INTERVALS = 1_000;
/** One may hold 100,000 values. */
const WAVEFORMS = 20;

/** Those that end within the range. */
export async function* intervalsInOrder(
  queries: Queries,
  points: readonly ExportedPoint[],
  { from, to }: Range,
): AsyncGenerator<ExportedInterval[]> {
  for (const { id, name } of points)
    for (let after: Interval | null = null; ;) {
      const asked = { pointId: id, from, before: to, after, limit: INTERVALS };
      const rows: Interval[] = await readStoredIntervals(queries, asked);
      if (rows.length > 0) yield rows.map((row) => ({ point: name, ...row }));
      if (rows.length < INTERVALS) break;
      after = rows.at(-1)!;
    }
}

/** Those that reach into the range. */
export async function* waveformsInOrder(
  queries: Queries,
  points: readonly ExportedPoint[],
  { from, to }: Range,
): AsyncGenerator<ExportedWaveform[]> {
  const longestSeconds = LONGEST_WAVEFORM_SECONDS;
  for (const { id, name } of points)
    for (let after: Instant | null = null; ;) {
      const asked = { pointId: id, from, before: to, after, longestSeconds, limit: WAVEFORMS };
      const rows: WaveformRow[] = await readWaveforms(queries, asked);
      if (rows.length > 0) yield rows.map((row) => ({ point: name, ...row }));
      if (rows.length < WAVEFORMS) break;
      after = rows.at(-1)!.t;
    }
}
