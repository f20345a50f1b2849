import type { TableBlock } from './blocks.ts';
import { BOLD, MARGIN, REGULAR, SMALL, type Sheet } from './sheet.ts';

const GAP = 8;
const PADDING = 3;

/** A table with hairlines; cells wrap, a row stays on one page, the head comes again on each. */
export function drawTable(sheet: Sheet, { columns, rows }: TableBlock): void {
  const left = sheet.x;
  const widths = widthsOf(sheet, columns);
  const head = columns.map(({ name }) => name);
  const draw = (cells: readonly string[], bold: boolean): void => {
    sheet.font(bold ? BOLD : REGULAR).fontSize(SMALL);
    const top = sheet.y + PADDING;
    let x = left;
    for (const [i, text] of cells.entries()) {
      sheet.text(text, x, top, { width: widths[i]! - GAP, align: columns[i]?.align ?? 'left' });
      x += widths[i]!;
    }
    const bottom = top + heightOf(sheet, cells, widths) + PADDING;
    const right = left + widths.reduce((a, b) => a + b, 0) - GAP;
    sheet
      .lineWidth(bold ? 0.8 : 0.25)
      .moveTo(left, bottom)
      .lineTo(right, bottom)
      .stroke();
    sheet.x = left;
    sheet.y = bottom;
  };
  const room = (cells: readonly string[], bold: boolean): boolean => {
    sheet.font(bold ? BOLD : REGULAR).fontSize(SMALL);
    return sheet.y + heightOf(sheet, cells, widths) + 2 * PADDING <= sheet.page.height - MARGIN;
  };
  if (!room(head, true) || sheet.y > sheet.page.height - MARGIN - 50) sheet.addPage();
  draw(head, true);
  for (const row of rows) {
    if (!room(row, false)) {
      sheet.addPage();
      draw(head, true);
    }
    draw(row, false);
  }
  sheet.moveDown(0.6);
}

function widthsOf(sheet: Sheet, columns: TableBlock['columns']): number[] {
  const whole = sheet.page.width - 2 * MARGIN;
  const shares = columns.reduce((sum, { width }) => sum + width, 0);
  return columns.map(({ width }) => (whole * width) / shares);
}

const heightOf = (sheet: Sheet, cells: readonly string[], widths: readonly number[]): number =>
  Math.max(...cells.map((text, i) => sheet.heightOfString(text || ' ', { width: widths[i]! - GAP })));
