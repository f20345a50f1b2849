import type { AnalogLane } from '../view/series-view.ts';

/** Columns for the plot: x in seconds, most, least, mean. A null breaks the line where nothing was heard for too long. */
export type PlotColumns = [number[], (number | null)[], (number | null)[], (number | null)[]];

export function plotColumns(lane: AnalogLane | undefined): PlotColumns {
  const columns: PlotColumns = [[], [], [], []];
  if (!lane) return columns;
  for (let i = 0; i < lane.t.length; i++) {
    const at = lane.t[i]!;
    const before = lane.t[i - 1];
    if (before !== undefined && at - before > lane.breakAfter)
      put(columns, (before + at) / 2e6, null, null, null);
    put(columns, at / 1e6, lane.max[i]!, lane.min[i]!, lane.mean[i]!);
  }
  return columns;
}

function put(columns: PlotColumns, at: number, ...values: (number | null)[]): void {
  columns[0].push(at);
  columns[1].push(values[0]!);
  columns[2].push(values[1]!);
  columns[3].push(values[2]!);
}
