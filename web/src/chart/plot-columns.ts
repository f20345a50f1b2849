import type { Instant } from '../../../shared/base/instant.ts';
import type { AnalogLane } from '../view/series-view.ts';

/** Columns for the plot: x in seconds, most, least, mean. A null breaks the line where nothing was heard for too long. */
type PlotColumns = [number[], (number | null)[], (number | null)[], (number | null)[]];

/**
 * A polled line goes from sample to sample. One that reports on change holds each value until the next, and the last
 * until `until`: a slope between two of its samples would be an invention.
 */
export function plotColumns(lane: AnalogLane | undefined, held: Instant | null): PlotColumns {
  const columns: PlotColumns = [[], [], [], []];
  if (!lane) return columns;
  const put = (at: Instant, i: number) => {
    columns[0].push(at / 1e6);
    columns[1].push(lane.max[i]!);
    columns[2].push(lane.min[i]!);
    columns[3].push(lane.mean[i]!);
  };
  for (let i = 0; i < lane.t.length; i++) {
    const [at, before] = [lane.t[i]!, lane.t[i - 1]];
    if (before !== undefined && at - before > lane.breakAfter)
      columns.forEach((column, c) => column.push(c ? null! : (before + at) / 2e6));
    else if (before !== undefined && held !== null) put(at, i - 1);
    put(at, i);
  }
  const last = lane.t.at(-1);
  if (held !== null && last !== undefined && held > last && held - last <= lane.breakAfter)
    put(held, lane.t.length - 1);
  return columns;
}
