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
  const put = (at: Instant, most: number | null, least: number | null, mean: number | null) => {
    columns[0].push(at / 1e6);
    columns[1].push(most);
    columns[2].push(least);
    columns[3].push(mean);
  };
  const hold = (at: Instant, i: number) => put(at, lane.last[i]!, lane.last[i]!, lane.last[i]!);
  for (let i = 0; i < lane.t.length; i++) {
    const [at, before] = [lane.t[i]!, lane.t[i - 1]];
    const broken = before !== undefined && at - before > lane.breakAfter;
    if (broken) put((before + at) / 2, null, null, null);
    else if (before !== undefined && held !== null) hold(at, i - 1);
    put(at, lane.max[i]!, lane.min[i]!, lane.mean[i]!);
    if (held !== null && lane.max[i] !== lane.min[i]) hold(at, i);
  }
  const last = lane.t.at(-1);
  if (held !== null && last !== undefined && held > last && held - last <= lane.breakAfter)
    hold(held, lane.t.length - 1);
  return columns;
}
