import type { ConfigurationFile } from './configuration-file.ts';
import { DigitalColumn, RowNumbers, type DataTable } from './data-table.ts';
import type { Faults } from './file-fault.ts';
import type { DataFormat } from './recording.ts';

/**
 * Rows of a binary data file, least byte first: number and time stamp in four bytes each, each analog value in two
 * (BINARY) or four (BINARY32, FLOAT32), digital states in words of sixteen. Missing: a time stamp of all ones, an analog
 * value of the sign bit alone, a float that is no number [IEEE C37.111, data file, binary].
 */
type BinaryFormat = Exclude<DataFormat, 'ASCII'>;

const VALUE_BYTES: Readonly<Record<BinaryFormat, number>> = { BINARY: 2, BINARY32: 4, FLOAT32: 4 };

const rowBytes = (format: BinaryFormat, { analog, digital }: ConfigurationFile): number =>
  8 + VALUE_BYTES[format] * analog.length + 2 * Math.ceil(digital.length / 16);

export function binaryTable(
  bytes: Uint8Array,
  format: BinaryFormat,
  file: ConfigurationFile,
  faults: Faults,
): DataTable {
  const size = rowBytes(format, file);
  const rows = Math.floor(bytes.length / size);
  const left = bytes.length - rows * size;
  if (left > 0)
    faults.add(
      'bytes-left',
      `The data end in the middle of a row: ${left} ${left === 1 ? 'byte was' : 'bytes were'} left out.`,
    );
  const view = viewOf(bytes);
  const stamps = new Float64Array(rows);
  const analog = file.analog.map(() => new Float64Array(rows));
  const contacts = file.digital.map((line) => new DigitalColumn(line));
  const numbers = new RowNumbers(faults);
  const read = READ[format];
  for (let row = 0, at = 0; row < rows; row++, at += size) {
    numbers.see(row, view.getUint32(at, true));
    const stamp = view.getUint32(at + 4, true);
    stamps[row] = stamp === 0xffffffff ? NaN : stamp;
    for (const [i, column] of analog.entries()) column[row] = read(view, at + 8 + i * VALUE_BYTES[format]);
    const words = at + 8 + analog.length * VALUE_BYTES[format];
    for (const [i, contact] of contacts.entries())
      contact.see(row, ((view.getUint16(words + 2 * (i >> 4), true) >> (i & 15)) & 1) as 0 | 1);
  }
  return { rows, stamps, analog, digital: contacts.map((contact) => contact.finish()) };
}

const READ: Readonly<Record<BinaryFormat, (view: DataView, at: number) => number>> = {
  BINARY: (view, at) => present(view.getInt16(at, true), -0x8000),
  BINARY32: (view, at) => present(view.getInt32(at, true), -0x80000000),
  FLOAT32: (view, at) => finite(view.getFloat32(at, true)),
};

const present = (value: number, missing: number): number => (value === missing ? NaN : value);
const finite = (value: number): number => (Number.isFinite(value) ? value : NaN);

const viewOf = (bytes: Uint8Array): DataView =>
  new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** Whether the first rows count 1, 2, 3, … in this layout: what the format of the data really is. */
export function countsUp(bytes: Uint8Array, format: BinaryFormat, file: ConfigurationFile): boolean {
  const size = rowBytes(format, file);
  const rows = Math.min(8, Math.floor(bytes.length / size));
  const view = viewOf(bytes);
  const numbers = Array.from({ length: rows }, (_, row) => view.getUint32(row * size, true));
  return rows > 0 && numbers.every((number, row) => number === numbers[0]! + row) && numbers[0]! <= 1;
}
