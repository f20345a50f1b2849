import { readCsv } from './csv-rows.ts';
import { cellValue, tableOfColumns, TABLES, type Column, type Table } from './tables.ts';

/** Files as rows of known tables, with everything about them that can be wrong before a site is looked at. */
export interface TableFile {
  readonly name: string;
  readonly text: string;
}

export interface TableRow {
  readonly file: string;
  /** as a spreadsheet counts: the head is 1 */
  readonly row: number;
  readonly table: Table;
  /** site, then what names the part */
  readonly key: readonly string[];
  /** what is to be put, column by column; undefined takes a field away */
  readonly cells: readonly { readonly column: Column; readonly value: unknown }[];
}

export interface TableFault {
  readonly file: string;
  readonly row: number;
  /** empty: the row as a whole */
  readonly column: string;
  readonly message: string;
}

export interface ReadTables {
  /** tables in the order in which they build on each other */
  readonly rows: readonly TableRow[];
  readonly faults: readonly TableFault[];
}

const SLUG = /^[a-z0-9][a-z0-9-]{0,62}$/;

export function readTables(files: readonly TableFile[]): ReadTables {
  const read = files.map(readFile);
  const rows = read.flatMap((file) => file.rows);
  const order = (row: TableRow) => TABLES.indexOf(row.table);
  const sorted = rows.map((row, i) => ({ row, i })).sort((a, b) => order(a.row) - order(b.row) || a.i - b.i);
  const [kept, twice] = apart(sorted.map(({ row }) => row));
  return { rows: kept, faults: [...read.flatMap((file) => file.faults), ...twice] };
}

/** A part is told once; the row that tells it again is a fault. */
function apart(rows: readonly TableRow[]): [TableRow[], TableFault[]] {
  const seen = new Map<string, TableRow>();
  const [kept, twice]: [TableRow[], TableFault[]] = [[], []];
  for (const row of rows) {
    const name = `${row.table.name} ${row.key.join(' ')}`;
    const other = seen.get(name);
    if (other)
      twice.push({
        file: row.file,
        row: row.row,
        column: row.table.keys.at(-1)!,
        message: `“${row.key.at(-1)}” is told already in row ${other.row} of ${other.file}: give each its own row.`,
      });
    else kept.push(row);
    seen.set(name, other ?? row);
  }
  return [kept, twice];
}

function readFile({ name: file, text }: TableFile): ReadTables {
  const { rows, openQuote } = readCsv(text);
  const faults: TableFault[] = [];
  const say = (row: number, column: string, message: string) => faults.push({ file, row, column, message });
  const head = (rows[0] ?? []).map((name) => name.trim());
  const table = tableOfColumns(head);
  if (table === null) {
    say(1, '', 'The first row names no columns of ours: give at least “site”, as the export writes them.');
    return { rows: [], faults };
  }
  if (openQuote !== null) say(openQuote, '', 'A quote is opened here and never closed: close it.');
  const columns = head.map((name) => table.columns.find((one) => one.name === name) ?? null);
  head.forEach((name, i) => {
    if (columns[i] === null && !table.keys.includes(name) && name !== '')
      say(
        1,
        name,
        `There is no column “${name}” in a table of ${table.name}: check its spelling or take it out.`,
      );
    if (name !== '' && head.indexOf(name) < i) say(1, name, `The column “${name}” stands here twice.`);
  });
  for (const key of table.keys.filter((one) => !head.includes(one)))
    say(1, key, `A table of ${table.name} needs a column “${key}”.`);
  if (faults.some(({ row, column }) => row === 1 && table.keys.includes(column))) return { rows: [], faults };
  const found = rows
    .slice(1)
    .map((cells, i) => ({ cells, row: i + 2 }))
    .filter(({ cells }) => cells.some((cell) => cell.trim() !== ''))
    .flatMap(({ cells, row }) => {
      const one = rowOf({ file, table, head, columns }, cells, row, (column, message) =>
        say(row, column, message),
      );
      return one ? [one] : [];
    });
  return { rows: found, faults };
}

interface Head {
  readonly file: string;
  readonly table: Table;
  readonly head: readonly string[];
  readonly columns: readonly (Column | null)[];
}

/** null: it can’t be said of what it is, and why is said. */
function rowOf(
  { file, table, head, columns }: Head,
  texts: readonly string[],
  row: number,
  say: (column: string, message: string) => void,
): TableRow | null {
  if (texts.slice(head.length).some((text) => text.trim() !== ''))
    say(
      '',
      `The row has ${texts.length} cells, the head has ${head.length}: check its quotes and separators.`,
    );
  const key = table.keys.map((name) => (texts[head.indexOf(name)] ?? '').trim());
  let isNamed = true;
  key.forEach((word, i) => {
    const name = table.keys[i]!;
    if (name === 'signal' && word !== '') return; // which signals there are is said by the document’s own check
    if (SLUG.test(word)) return;
    isNamed = false;
    say(
      name,
      word === ''
        ? `“${name}” must be given.`
        : `“${word}” can’t be an id: use lower-case letters, digits and hyphens, at most 63 characters.`,
    );
  });
  if (key.at(-1) === '' && table.name === 'points') isNamed = false;
  const cells = columns.flatMap((column, i) => {
    if (column === null) return [];
    const cell = cellValue(column, texts[i] ?? '');
    if ('value' in cell) return [{ column, value: cell.value }];
    say(column.name, cell.fault);
    return [];
  });
  return isNamed ? { file, row, table, key, cells } : null;
}
