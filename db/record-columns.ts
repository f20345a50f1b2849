import { readTime } from './values.ts';

/**
 * Rows as columns of a growing size, read out of `COPY (select source int2, t timestamptz, value float8, quality int2)
 * … (FORMAT binary)` (PostgreSQL documentation, COPY, binary format). None of the four is ever null, so every row has
 * the same 38 bytes.
 */
export interface Columns {
  length: number;
  t: Float64Array;
  source: Uint16Array;
  value: Float64Array;
  quality: Uint8Array;
}

export const emptyColumns = (size: number): Columns => ({
  length: 0,
  t: new Float64Array(size),
  source: new Uint16Array(size),
  value: new Float64Array(size),
  quality: new Uint8Array(size),
});

/** Before the rows: an 11-byte signature, flags, and the length of an extension that is never there. */
const FILE_HEADER = 19;
/** After the rows: a field count of -1. */
const TRAILER = 2;
const ROW = 2 + (4 + 2) + (4 + 8) + (4 + 8) + (4 + 2);

/** Takes every row into columns that hold at most `size` rows. */
export async function columnsFrom(chunks: AsyncIterable<Buffer>, size: number): Promise<Columns> {
  let columns = emptyColumns(Math.min(size, 4_096));
  let left: Buffer = Buffer.alloc(0);
  let skip = FILE_HEADER;
  for await (const chunk of chunks) {
    const bytes = left.length === 0 ? chunk : Buffer.concat([left, chunk]);
    const rows = Math.max(0, Math.floor((bytes.length - skip) / ROW));
    columns = withRoomFor(columns, columns.length + rows, size);
    takeRows(columns, bytes, skip, rows);
    left = rows === 0 ? bytes : bytes.subarray(skip + rows * ROW);
    if (rows > 0) skip = 0;
  }
  if (left.length - skip !== TRAILER) throw new Error(`a COPY of the record ended ${left.length} bytes off`);
  return columns;
}

function takeRows(columns: Columns, bytes: Buffer, from: number, rows: number): void {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const { t, source, value, quality } = columns;
  let row = columns.length;
  for (let i = 0, at = from; i < rows; i++, row++, at += ROW) {
    source[row] = view.getInt16(at + 6);
    t[row] = readTime(view, at + 12);
    value[row] = view.getFloat64(at + 24);
    quality[row] = view.getInt16(at + 36);
  }
  columns.length = row;
}

function withRoomFor(columns: Columns, rows: number, size: number): Columns {
  const room = columns.t.length;
  if (rows <= room) return columns;
  if (rows > size) throw new Error(`the record gave more than the ${size} rows asked for`);
  const larger = emptyColumns(Math.min(size, Math.max(rows, room * 2)));
  larger.t.set(columns.t);
  larger.source.set(columns.source);
  larger.value.set(columns.value);
  larger.quality.set(columns.quality);
  larger.length = columns.length;
  return larger;
}

/** The database orders by time only; rows of one instant are put in order of their source here. */
export function orderWithinInstants(columns: Columns): void {
  const { t, source } = columns;
  for (let i = 1; i < columns.length; i++) {
    for (let j = i; j > 0 && t[j] === t[j - 1] && source[j]! < source[j - 1]!; j--)
      swapRows(columns, j, j - 1);
  }
}

function swapRows({ source, value, quality }: Columns, a: number, b: number): void {
  for (const column of [source, value, quality]) {
    const held = column[a]!;
    column[a] = column[b]!;
    column[b] = held;
  }
}
