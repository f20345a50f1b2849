import type { ConfigurationFile } from './configuration-file.ts';
import { DigitalColumn, MOST_VALUES, RowNumbers, type DataTable } from './data-table.ts';
import type { Faults } from './file-fault.ts';
import { fieldsOf, numberOf } from './text.ts';

/**
 * Rows of an ASCII data file: number, time stamp, analog values, digital states. A missing value is an empty field (2013)
 * or 99999 (1999), 999999 (1991) [IEEE C37.111, data file, ASCII]. A row with too few fields keeps what it has.
 * null: more than is read.
 */
export function asciiTable(
  lines: readonly string[],
  file: ConfigurationFile,
  faults: Faults,
): DataTable | null {
  const rows = lines.filter((line) => line.trim() !== '');
  const last = lines.findLastIndex((line) => line.trim() !== '');
  if (rows.length <= last)
    faults.add('blank-lines', 'The data file has blank lines inside; they were left out.');
  const { analog, digital } = file;
  if (rows.length * (analog.length + digital.length) > MOST_VALUES) {
    faults.add(
      'too-large',
      'The data hold more values than are read. Export fewer channels or a shorter stretch.',
    );
    return null;
  }
  const table = {
    rows: rows.length,
    stamps: new Float64Array(rows.length),
    analog: analog.map(() => new Float64Array(rows.length)),
  };
  const contacts = digital.map((line) => new DigitalColumn(line));
  const numbers = new RowNumbers(faults);
  const fieldsNeeded = 2 + analog.length + digital.length;
  for (const [row, line] of rows.entries()) {
    const fields = fieldsOf(line);
    noteLength(fields.length, fieldsNeeded, row, faults);
    numbers.see(row, numberOf(fields[0]));
    table.stamps[row] = numberOf(fields[1]) ?? NaN;
    for (const [i, column] of table.analog.entries()) column[row] = valueOf(fields[2 + i], file, faults, row);
    for (const [i, contact] of contacts.entries()) {
      const state = fields[2 + analog.length + i];
      if (state !== undefined) contact.see(row, state === '1' ? 1 : 0);
    }
  }
  return { ...table, digital: contacts.map((contact) => contact.finish()) };
}

function noteLength(have: number, needed: number, row: number, faults: Faults): void {
  if (have !== needed)
    faults.add(
      'data-line',
      `Row ${row + 1} of the data has ${have} fields where the channels make ${needed}; what is there was read.`,
    );
}

/** Values that mean "missing": of 1999 and of 1991. */
const MISSING: Readonly<Record<number, number>> = { 1999: 99999, 1991: 999999 };

function valueOf(field: string | undefined, file: ConfigurationFile, faults: Faults, row: number): number {
  const value = numberOf(field);
  if (value !== null && value !== MISSING[file.revision]) return value;
  if (value === null && field !== undefined && field !== '')
    faults.add(
      'data-line',
      `Row ${row + 1} of the data has “${field.slice(0, 20)}” for a value; it was left out.`,
    );
  return NaN;
}
