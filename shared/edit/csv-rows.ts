/**
 * A table as people’s programs write it (RFC 4180, and what they make of it): with or without a byte order mark, lines ended in
 * any of three ways, cells apart by comma, semicolon or tab as the first line has them, quotes doubled inside quotes. An
 * apostrophe that our own writer puts before what looks like a formula is taken off again.
 */
export interface CsvRows {
  /** row by row; the first is the head */
  readonly rows: readonly (readonly string[])[];
  /** in which row a quote was opened and never closed; null: none */
  readonly openQuote: number | null;
}

export function readCsv(text: string): CsvRows {
  const body = text.startsWith('\uFEFF') ? text.slice(1) : text;
  const separator = separatorOf(body);
  const rows: string[][] = [];
  let [row, cell, at]: [string[], string, number] = [[], '', 0];
  const endCell = () => {
    row.push(cell);
    cell = '';
  };
  const endRow = () => {
    endCell();
    rows.push(row.map(withoutApostrophe));
    row = [];
  };
  while (at < body.length) {
    const sign = body[at]!;
    if (sign === '"' && cell === '') {
      const end = quotedEnd(body, at + 1);
      if (end === null) return { rows, openQuote: rows.length + 1 };
      cell = body.slice(at + 1, end).replaceAll('""', '"');
      at = end + 1;
    } else if (sign === separator) {
      endCell();
      at++;
    } else if (sign === '\r' || sign === '\n') {
      endRow();
      at += body.startsWith('\r\n', at) ? 2 : 1;
    } else {
      cell += sign;
      at++;
    }
  }
  if (cell !== '' || row.length > 0) endRow();
  return { rows, openQuote: null };
}

/** Where the quote closes that was opened before `from`; null: nowhere. */
function quotedEnd(text: string, from: number): number | null {
  for (let at = text.indexOf('"', from); at >= 0; at = text.indexOf('"', at + 2)) {
    if (text[at + 1] !== '"') return at;
  }
  return null;
}

/** What stands most often in the first line, outside of quotes. */
function separatorOf(text: string): string {
  const head = /^[^\r\n]*/.exec(text)![0].replace(/"[^"]*"/g, '');
  const counts = [',', ';', '\t'].map((sign) => ({ sign, count: head.split(sign).length }));
  return counts.sort((a, b) => b.count - a.count)[0]!.sign;
}

const withoutApostrophe = (cell: string): string => (/^'[=+\-@\t\r]/.test(cell) ? cell.slice(1) : cell);
