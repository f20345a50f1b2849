/**
 * Tables as CSV (RFC 4180): lines end with CR LF, quotes are doubled, the first line names the columns. Text that a
 * spreadsheet would take for a formula (it begins with = + - @, a tab or a return and is no number) gets an apostrophe in
 * front: names come from people.
 */
export type Cell = string | number | null;

export const csvOf = (columns: readonly string[], rows: readonly (readonly Cell[])[]): string =>
  csvLines([columns, ...rows]);

/** More lines of a table whose columns are named already. */
export const csvLines = (rows: readonly (readonly Cell[])[]): string =>
  rows.map((row) => `${row.map(cellText).join(',')}\r\n`).join('');

function cellText(cell: Cell): string {
  if (cell === null) return '';
  if (typeof cell === 'number') return String(cell);
  const isFormula = /^[=+\-@\t\r]/.test(cell) && Number.isNaN(Number(cell));
  const text = isFormula ? `'${cell}` : cell;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
