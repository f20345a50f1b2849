import type { Instant } from '../../shared/base/instant.ts';
import type { ChartBlock, PrintedPlot } from './blocks.ts';
import { drawDrawing } from './draw-drawing.ts';
import { MARGIN, REGULAR, SMALL, type Sheet } from './sheet.ts';

/** The timing chart on paper: names at the left, one time axis below, lanes in the page's drawings. */
const NAMES = 112;
const LANE = 17;
const PLOT = 62;
const LEAST_WIDTH = 0.8;

export function drawChart(sheet: Sheet, chart: ChartBlock): void {
  const left = sheet.x;
  const width = sheet.page.width - 2 * MARGIN - NAMES;
  const at = (t: Instant): number =>
    left +
    NAMES +
    (width * (Math.min(chart.to, Math.max(chart.from, t)) - chart.from)) / (chart.to - chart.from);
  const pages = partsOf(chart, sheet.page.height - 2 * MARGIN - 60);
  for (const part of pages) {
    const height = heightOf(part);
    if (sheet.y + height + 46 > sheet.page.height - MARGIN) sheet.addPage();
    const top = sheet.y + 12 * Math.min(3, part.marks.length) + 4;
    drawGrid(sheet, part, at, { top, height });
    let y = top;
    for (const lane of part.lanes) y = drawLane(sheet, lane, at, { left, y });
    for (const plot of part.plots) y = drawPlot(sheet, plot, at, { left, y, right: left + NAMES + width });
    sheet.x = left;
    sheet.y = top + height + 22;
  }
}

const heightOf = ({ lanes, plots }: ChartBlock): number => lanes.length * LANE + plots.length * PLOT;

/** As many lanes as a page holds, then the next. */
function partsOf(chart: ChartBlock, room: number): ChartBlock[] {
  if (heightOf(chart) <= room) return [chart];
  const fits = Math.max(1, Math.floor(room / LANE));
  const parts: ChartBlock[] = [];
  for (let i = 0; i < chart.lanes.length; i += fits)
    parts.push({ ...chart, lanes: chart.lanes.slice(i, i + fits), plots: [] });
  const plots = Math.max(1, Math.floor(room / PLOT));
  for (let i = 0; i < chart.plots.length; i += plots)
    parts.push({ ...chart, lanes: [], plots: chart.plots.slice(i, i + plots) });
  return parts;
}

type Across = (t: Instant) => number;

function drawGrid(
  sheet: Sheet,
  { ticks, marks }: ChartBlock,
  at: Across,
  { top, height }: { readonly top: number; readonly height: number },
): void {
  const bottom = top + height;
  sheet.font(REGULAR).fontSize(6.5);
  for (const tick of ticks) {
    const x = at(tick.at);
    sheet
      .lineWidth(0.2)
      .moveTo(x, top)
      .lineTo(x, bottom + 3)
      .stroke();
    const width = sheet.widthOfString(tick.label);
    const most = sheet.page.width - MARGIN - width;
    sheet.text(tick.label, Math.min(most, x - width / 2), bottom + 5, { lineBreak: false });
  }
  for (const [i, mark] of marks.entries()) {
    const x = at(mark.at);
    const y = top - 12 * Math.min(3, marks.length) + 12 * (i % 3) - 2;
    sheet
      .lineWidth(0.6)
      .dash(2, { space: 1.5 })
      .moveTo(x, y + 8)
      .lineTo(x, bottom)
      .stroke()
      .undash();
    const width = sheet.widthOfString(mark.label);
    const most = sheet.page.width - MARGIN - width;
    sheet.text(mark.label, Math.min(most, x + 2), y, { lineBreak: false });
  }
}

function drawLane(
  sheet: Sheet,
  lane: ChartBlock['lanes'][number],
  at: Across,
  { left, y }: { readonly left: number; readonly y: number },
): number {
  nameAt(sheet, lane.name, left, y + LANE / 2 - 5);
  for (const { from, to, drawing } of lane.pieces) {
    const x = at(from);
    const width = Math.max(LEAST_WIDTH, at(to) - x);
    drawDrawing(sheet, { x, y: y + 3, width, height: LANE - 6 }, drawing);
  }
  return y + LANE;
}

function nameAt(sheet: Sheet, name: string, x: number, y: number): void {
  sheet.font(REGULAR).fontSize(SMALL);
  sheet.text(name, x, y, { width: NAMES - 6, height: 11, ellipsis: true });
}

function drawPlot(
  sheet: Sheet,
  plot: PrintedPlot,
  at: Across,
  { left, y, right }: { readonly left: number; readonly y: number; readonly right: number },
): number {
  const [top, bottom] = [y + 6, y + PLOT - 6];
  const span = plot.high - plot.low || 1;
  const up = (value: number): number =>
    bottom - ((Math.min(plot.high, Math.max(plot.low, value)) - plot.low) / span) * (bottom - top);
  nameAt(sheet, plot.name, left, (top + bottom) / 2 - 5);
  sheet.font(REGULAR).fontSize(6.5);
  for (const value of [plot.low, plot.high]) {
    const text = String(value);
    sheet.text(text, left + NAMES - 4 - sheet.widthOfString(text), up(value) - 4, { lineBreak: false });
  }
  for (const { value, says } of plot.thresholds) {
    sheet
      .lineWidth(0.4)
      .dash(3, { space: 2 })
      .moveTo(left + NAMES, up(value))
      .lineTo(right, up(value));
    sheet.stroke().undash();
    sheet.text(says, right - sheet.widthOfString(says), up(value) + 1, { lineBreak: false });
  }
  drawLine(sheet, plot, at, up);
  return y + PLOT;
}

/** Stepped from point to point; least and most of each are both on the line. */
function drawLine(sheet: Sheet, { points }: PrintedPlot, at: Across, up: (value: number) => number): void {
  if (points.length === 0) return;
  sheet.lineWidth(0.7);
  for (const [i, { t, least, most }] of points.entries()) {
    const x = at(t);
    if (i === 0) sheet.moveTo(x, up(most));
    else sheet.lineTo(x, up(points[i - 1]!.least)).lineTo(x, up(most));
    sheet.lineTo(x, up(least));
  }
  sheet.lineTo(at(points.at(-1)!.t), up(points.at(-1)!.least)).stroke();
}
