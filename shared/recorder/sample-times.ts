import type { ConfigurationFile } from './configuration-file.ts';
import type { DataTable } from './data-table.ts';
import type { Faults } from './file-fault.ts';
import type { SampleRate } from './recording.ts';

/**
 * When each sample was taken, in seconds from the first. Rates hold where the file gives any, one stretch after the other;
 * the time stamps hold where it gives none [IEEE C37.111: with a rate the stamps are not needed, without one they are].
 * null: neither is there.
 */
export function sampleTimes(table: DataTable, file: ConfigurationFile, faults: Faults): Float64Array | null {
  const { rates, stampSeconds } = file;
  const stamped = table.stamps.findIndex((stamp) => !Number.isNaN(stamp)) >= 0;
  if (rates.length === 0 && stamped) {
    faults.add('no-rate', 'The file gives no sampling rate; its time stamps say when each value was taken.');
    return timesOfStamps(table.stamps, stampSeconds, faults);
  }
  if (rates.length === 0) {
    faults.add(
      'no-sampling',
      'The file gives neither a sampling rate nor time stamps, so nothing says when its values were taken. Export it again with one of them.',
    );
    return null;
  }
  noteCount(table.rows, rates, faults);
  const times = timesOfRates(table.rows, rates);
  if (!stamped)
    faults.add('stamps-missing', 'The data have no time stamps; the sampling rate says when each was taken.');
  else noteStamps(times, table.stamps, stampSeconds, faults);
  return times;
}

function noteCount(rows: number, rates: readonly SampleRate[], faults: Faults): void {
  const told = rates.at(-1)!.last;
  if (told !== rows)
    faults.add(
      'sample-count',
      `The configuration file counts ${told} samples, the data file has ${rows}; all that are there were read.`,
    );
}

/** Sample k + 1 follows sample k by one period of the rate that holds for k + 1; the last rate goes on to the end. */
export function timesOfRates(rows: number, rates: readonly SampleRate[]): Float64Array {
  const times = new Float64Array(rows);
  let stretch = 0;
  // counted from the stretch's own beginning, so that rounding doesn't add up
  let [begins, before] = [0, 0];
  for (let row = 1; row < rows; row++) {
    while (stretch < rates.length - 1 && row + 1 > rates[stretch]!.last) {
      stretch++;
      [begins, before] = [row - 1, times[row - 1]!];
    }
    times[row] = before + (row - begins) / rates[stretch]!.perSecond;
  }
  return times;
}

function timesOfStamps(stamps: Float64Array, stampSeconds: number, faults: Faults): Float64Array {
  const times = new Float64Array(stamps.length);
  const first = stamps.find((stamp) => !Number.isNaN(stamp))!;
  let [missing, backward] = [0, 0];
  for (const [row, stamp] of stamps.entries()) {
    const before = row === 0 ? 0 : times[row - 1]!;
    const time = (stamp - first) * stampSeconds;
    if (Number.isNaN(time)) missing++;
    else if (time < before) backward++;
    times[row] = time >= before ? time : before;
  }
  if (missing > 0)
    faults.add(
      'stamps-missing',
      `${missing} of ${stamps.length} samples have no time stamp, and no rate says when they were taken; each was put at the one before it.`,
    );
  if (backward > 0)
    faults.add(
      'stamps-backward',
      `The time stamps run backward at ${backward} of ${stamps.length} samples; each was put at the one before it.`,
    );
  return times;
}

/** Share of the whole by which stamps may be off before they are said to differ, and least of all a sample. */
const DIFFERENCE = 0.01;

function noteStamps(times: Float64Array, stamps: Float64Array, stampSeconds: number, faults: Faults): void {
  const first = stamps.findIndex((stamp) => !Number.isNaN(stamp));
  const last = stamps.findLastIndex((stamp) => !Number.isNaN(stamp));
  const byStamps = (stamps[last]! - stamps[first]!) * stampSeconds;
  const byRate = times[last]! - times[first]!;
  const period = byRate / Math.max(1, last - first);
  if (last > first && Math.abs(byStamps - byRate) > Math.max(2 * period, DIFFERENCE * byRate))
    faults.add(
      'stamps-differ',
      `By its time stamps the recording lasts ${byStamps.toPrecision(4)} s, by its sampling rate ${byRate.toPrecision(4)} s; the rate was used.`,
    );
}
